"""What to beware of when seals are put together."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import remove_row
from kits.models import AssemblyCaution
from kits.operations.lubricant_tables import CAUTIONS, add_caution, change_caution
from kits.queries.trade_tables import assembly_cautions
from services.api.filters import Filters
from services.api.rows import Body, Rows


class AssemblyCautionRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    sentence = serializers.CharField()
    occasion = serializers.CharField(help_text="When it is shown.")
    lubricant = serializers.CharField(source="lubricant.code", allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class AssemblyCautionIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.SlugField(max_length=40)
    sentence = serializers.CharField(max_length=500)
    occasion = serializers.ChoiceField(choices=AssemblyCaution.Occasion.choices)
    lubricant = serializers.CharField(
        max_length=40, required=False, allow_null=True, help_text="With the occasion usable: a lubricant's code."
    )
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class AssemblyCautionChange(Body):
    sentence = serializers.CharField(max_length=500, required=False)
    occasion = serializers.ChoiceField(choices=AssemblyCaution.Occasion.choices, required=False)
    lubricant = serializers.CharField(
        max_length=40, required=False, allow_null=True, help_text="With the occasion usable: a lubricant's code."
    )
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class AssemblyCautionFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")
    occasion = django_filters.CharFilter(help_text="always, unknown-elastomer or usable.")

    class Meta:
        model = AssemblyCaution
        fields: list[str] = []


AssemblyCautionsView, AssemblyCautionView = table_views(
    TableDoor(
        path="assembly-cautions",
        one="caution of assembly",
        many="cautions of assembly",
        tag="Lubricants",
        rows=AssemblyCautionRow,
        body=AssemblyCautionIn,
        change_body=AssemblyCautionChange,
        filters=AssemblyCautionFilters,
        order=("code", "id"),
        read=assembly_cautions,
        add=add_caution,
        change=change_caution,
        remove=partial(remove_row, CAUTIONS),
        example={
            "code": "clean-hands",
            "sentence": "Clean hands and tools before a seal is unpacked.",
            "occasion": "always",
            "source": "common practice, no source",
        },
        change_example={"sentence": "Clean hands, bench and tools before a seal is unpacked."},
    )
)
