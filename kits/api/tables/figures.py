"""What several tables have and say in the same words."""

from rest_framework import serializers

from kits.models.materials import COLDEST_C
from services.api.rows import Body

SEVERAL_SOURCES = (
    "Several sources may give it, each in a row of its own. The most careful figure counts, unless one row is chosen."
)
LOTS_KEEP_THEIR_EXPIRY = (
    "Parts made of the material take the group that counts. Lots keep the expiry they were given; an extension granted "
    "later is counted with the group as it stands then."
)


class FigureIn(Body):
    """What every figure says beside itself."""

    id = serializers.UUIDField(required=False)
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    chosen_because = serializers.CharField(
        max_length=2000,
        required=False,
        allow_blank=True,
        help_text="Give a reason to let it count before other sources.",
    )
    source = serializers.CharField(max_length=300)  # type: ignore[assignment]


class FigureChange(Body):
    """What may change of it."""

    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)
    chosen_because = serializers.CharField(
        max_length=2000,
        required=False,
        allow_blank=True,
        help_text="Give a reason to let it count before other sources.",
    )
    source = serializers.CharField(max_length=300, required=False)  # type: ignore[assignment]


class RatingIn(FigureIn):
    """How something bears a family of fluids."""

    fluid_family = serializers.CharField(max_length=40, help_text="A fluid family's code.")
    up_to_c = serializers.DecimalField(max_digits=6, decimal_places=2, min_value=COLDEST_C)
    rating = serializers.ChoiceField(choices=["A", "B", "C", "X"], help_text="A good, B limited, C doubtful, X not.")


class RatingChange(FigureChange):
    """What may change of that."""

    up_to_c = serializers.DecimalField(max_digits=6, decimal_places=2, min_value=COLDEST_C, required=False)
    rating = serializers.ChoiceField(choices=["A", "B", "C", "X"], required=False)
