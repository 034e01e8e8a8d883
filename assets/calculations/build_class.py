"""Build classes: what of a pump a rule of fit can see."""

import hashlib
import json
import uuid
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import TypeVar

T = TypeVar("T")


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


def between(cuts: Sequence[T], place: int) -> tuple[T | None, T | None]:
    """The cut points on both sides of a segment or bracket, by its number; None where it is open."""
    return (cuts[place - 1] if place else None), (cuts[place] if place < len(cuts) else None)


def build_class_key(
    *,
    model_id: uuid.UUID,
    serials: tuple[str | None, str | None],
    variant: Mapping[str, str],
    relevant: frozenset[str],
    fluid_family: str,
    coldest: tuple[Decimal | None, Decimal | None],
    hottest: tuple[Decimal | None, Decimal | None],
) -> str:
    """A text equal for exactly the pumps that no rule can tell apart.

    ``serials``, ``coldest`` and ``hottest`` are the cut points on both sides, not their number: a further cut gives
    the two pieces keys of their own, and no pump falls into a class that was made for another piece.
    """
    kept = sorted((name, str(variant[name])) for name in relevant if variant.get(name))
    seen = json.dumps([serials, kept, fluid_family, *([str(one) for one in both] for both in (coldest, hottest))])
    return f"{model_id}|{hashlib.blake2b(seen.encode(), digest_size=20).hexdigest()}"


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
