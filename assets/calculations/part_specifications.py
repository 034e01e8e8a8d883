"""Typed specifications of parts: what a wear position asks for and what a part is, in one language.

Reading them from text or stored JSON, and comparing two. Each category is in a file of its own.
"""

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from assets.calculations import mechanical_seals, o_rings, rolling_bearings
from assets.calculations.mechanical_seals import MechanicalSeal
from assets.calculations.o_rings import ORing
from assets.calculations.other_parts import (
    Circlip,
    Fastener,
    FlatGasket,
    Key,
    LipSeal,
    Other,
    Packing,
    Sleeve,
    WearRing,
    parse_circlip,
    parse_fastener,
    parse_key,
    parse_packing,
    parse_ring,
)
from assets.calculations.rolling_bearings import RollingBearing
from assets.calculations.specification_base import Comparison, Point, Specification, SpecificationError

_READERS: dict[str, Callable[[str], Specification]] = {
    "o-ring": o_rings.parse,
    "rolling-bearing": rolling_bearings.parse,
    "mechanical-seal": mechanical_seals.parse,
    "flat-gasket": lambda text: parse_ring(FlatGasket, text),
    "lip-seal": lambda text: parse_ring(LipSeal, text),
    "wear-ring": lambda text: parse_ring(WearRing, text),
    "sleeve": lambda text: parse_ring(Sleeve, text),
    "packing": parse_packing,
    "circlip": parse_circlip,
    "key": parse_key,
    "fastener": parse_fastener,
    "other": lambda text: Other(text.strip()),
}
_CLASSES: dict[str, type[Specification]] = {
    one.category: one
    for one in (
        ORing, RollingBearing, MechanicalSeal, FlatGasket, LipSeal, WearRing, Sleeve, Packing, Circlip, Key, Fastener,
        Other,
    )
}  # fmt: skip


def known_categories() -> list[str]:
    """Categories that parts may have."""
    return sorted(_READERS)


def parse_specification(category: str, text: str) -> Specification:
    """Read a specification as people write it. Raises `SpecificationError` naming the field and the remedy."""
    reader = _READERS.get(category)
    if reader is None:
        raise SpecificationError(
            "category", f"{category!r} is no category of parts.", f"Known: {', '.join(known_categories())}."
        )
    if not text.strip():
        raise SpecificationError("specification", "The specification is empty.", "Write what the part is.")
    return reader(text)


def specification_from_json(data: Mapping[str, Any]) -> Specification:
    """A stored specification. Raises `SpecificationError` where it is not one of ours."""
    kind = _CLASSES.get(str(data.get("category")))
    if kind is None:
        raise SpecificationError("category", f"{data.get('category')!r} is no category.", "See known_categories.")
    fields: dict[str, Any] = {}
    for name, value in data.items():
        if name == "category":
            continue
        fields[name] = Decimal(value) if name.endswith("_mm") else tuple(value) if isinstance(value, list) else value
    try:
        return kind(**fields)
    except TypeError as error:
        raise SpecificationError(
            "specification", f"Its fields are not those of {kind.category}.", str(error)
        ) from error


def compare(asked: Specification, offered: Specification) -> Comparison:
    """Whether the offered part is equal to what is asked in all that matters for the category."""
    if type(asked) is not type(offered):
        point = Point("category", asked.category, offered.category, False)
        return Comparison(equal=False, comparable=False, points=(point,))
    points = asked.points(offered)
    return Comparison(equal=all(one.same for one in points), comparable=asked.category != "other", points=points)


def elastomers_of(specification: Specification) -> tuple[str, ...]:
    """ISO 1629 codes of the elastomers that the part brings."""
    return specification.elastomers()


__all__ = [
    "Comparison",
    "MechanicalSeal",
    "ORing",
    "Point",
    "RollingBearing",
    "Specification",
    "SpecificationError",
    "compare",
    "elastomers_of",
    "known_categories",
    "parse_specification",
    "specification_from_json",
]
