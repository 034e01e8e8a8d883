"""Which lubricant each material bears."""

from functools import partial

import django_filters
from rest_framework import serializers

from assets.api.table_views import TableDoor, table_views
from assets.operations.table_rows import change_row, remove_row
from kits.api.tables.figures import SEVERAL_SOURCES, FigureChange, FigureIn
from kits.models import LubricantAdvice
from kits.operations.lubricant_tables import VERDICTS, add_lubricant_verdict
from kits.queries.trade_tables import lubricant_verdicts
from services.api.filters import Filters
from services.api.rows import Rows


class LubricantVerdictRow(Rows):
    id = serializers.UUIDField()
    material = serializers.CharField(source="material.code")
    lubricant = serializers.CharField(source="lubricant.code")
    verdict = serializers.CharField()
    note = serializers.CharField()
    chosen_because = serializers.CharField(help_text="Why it counts before other sources; empty: it is not chosen.")
    source = serializers.CharField()  # type: ignore[assignment]
    version = serializers.IntegerField()


class LubricantVerdictIn(FigureIn):
    material = serializers.CharField(max_length=20, help_text="A material's code.")
    lubricant = serializers.CharField(max_length=40, help_text="A lubricant's code.")
    verdict = serializers.ChoiceField(choices=["ok", "check", "avoid", "forbidden"])


class LubricantVerdictChange(FigureChange):
    verdict = serializers.ChoiceField(choices=["ok", "check", "avoid", "forbidden"], required=False)


class LubricantVerdictFilters(Filters):
    material = django_filters.CharFilter("material__code", help_text="A material's code.")
    lubricant = django_filters.CharFilter("lubricant__code", help_text="A lubricant's code.")
    verdict = django_filters.CharFilter(help_text="ok, check, avoid or forbidden.")

    class Meta:
        model = LubricantAdvice
        fields: list[str] = []


LubricantVerdictsView, LubricantVerdictView = table_views(
    TableDoor(
        path="lubricant-verdicts",
        one="lubricant verdict",
        many="which lubricant each material bears",
        tag="Lubricants",
        rows=LubricantVerdictRow,
        body=LubricantVerdictIn,
        change_body=LubricantVerdictChange,
        filters=LubricantVerdictFilters,
        order=("material__code", "lubricant__code", "source", "id"),
        read=lubricant_verdicts,
        add=add_lubricant_verdict,
        change=partial(change_row, VERDICTS),
        remove=partial(remove_row, VERDICTS),
        example={
            "material": "CR",
            "lubricant": "silicone-grease",
            "verdict": "ok",
            "source": "data sheet of the grease in stock",
        },
        change_example={"verdict": "check"},
        description=SEVERAL_SOURCES,
    )
)
