"""Build classes: what of a pump a rule of fit can see."""

import uuid
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal


def relevant_variant_keys(conditions: Iterable[Mapping[str, str]]) -> frozenset[str]:
    """The variant entries that some wear position of the model asks about; others cannot matter to fit."""
    return frozenset(name for one in conditions for name in one)


def temperature_bracket(temperature_max_c: Decimal, cut_points: Sequence[Decimal]) -> int:
    """The bracket of a temperature among sorted cut points. A pump on a cut point belongs to the bracket below it,
    since material limits include their value."""
    return bisect_left(sorted(cut_points), temperature_max_c)


def lowest_bracket(temperature_min_c: Decimal, cut_points: Sequence[Decimal]) -> int:
    """The bracket of a lowest temperature. Here a pump on a cut point belongs to the bracket above it, since the
    lower limit of a material includes its value too."""
    return bisect_right(sorted(cut_points), temperature_min_c)


def build_class_key(
    *,
    model_id: uuid.UUID,
    serial_segment: int,
    variant: Mapping[str, str],
    relevant: frozenset[str],
    fluid_family: str,
    brackets: tuple[int, int],
) -> str:
    """A text equal for exactly the pumps that no rule can tell apart. ``brackets``: of the lowest and the highest
    temperature."""
    kept = ";".join(f"{name}={variant[name]}" for name in sorted(relevant) if variant.get(name))
    return f"{model_id}|{serial_segment}|{kept}|{fluid_family}|{brackets[0]}|{brackets[1]}"


def read_conditions(text: str) -> dict[str, str] | None:
    """As-built conditions written as ``elastomer=EPDM; seal-faces=Q1Q1``; None where that is not what is written."""
    kept: dict[str, str] = {}
    for one in filter(None, (part.strip() for part in text.split(";"))):
        name, sign, value = one.partition("=")
        if not sign or not name.strip() or not value.strip():
            return None
        kept[name.strip()] = value.strip()
    return kept


def variant_matches(condition: Mapping[str, str], variant: Mapping[str, str]) -> bool:
    """Whether a position's as-built condition holds; an empty condition holds for every pump."""
    return all(str(variant.get(name, "")).upper() == str(wanted).upper() for name, wanted in condition.items())
