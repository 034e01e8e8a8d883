"""Typed specifications of parts: what a wear position asks for and what a part is, in one language.

Reading them from text or stored JSON, and comparing two. Each category is in a file of its own.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import partial
from typing import Any

from assets.calculations import circlips, fasteners, flat_gaskets, keys, lip_seals, mechanical_seals, o_rings
from assets.calculations import rolling_bearings as bearings
from assets.calculations.circlips import Circlip
from assets.calculations.fasteners import Fastener
from assets.calculations.flat_gaskets import FlatGasket
from assets.calculations.keys import Key
from assets.calculations.lip_seals import LipSeal
from assets.calculations.mechanical_seals import MechanicalSeal
from assets.calculations.o_rings import ORing
from assets.calculations.other_parts import Other, Packing, parse_other, parse_packing
from assets.calculations.plain_rings import Sleeve, WearRing, parse_ring
from assets.calculations.rolling_bearings import RollingBearing
from assets.calculations.specification_base import (
    Comparison,
    Point,
    Property,
    Reading,
    Specification,
    SpecificationError,
)

_READERS: dict[type[Specification], Callable[[str], Reading]] = {
    ORing: o_rings.parse,
    RollingBearing: bearings.parse,
    MechanicalSeal: mechanical_seals.parse,
    FlatGasket: flat_gaskets.parse,
    LipSeal: lip_seals.parse,
    WearRing: partial(parse_ring, WearRing),
    Sleeve: partial(parse_ring, Sleeve),
    Packing: parse_packing,
    Circlip: circlips.parse,
    Key: keys.parse,
    Fastener: fasteners.parse,
    Other: parse_other,
}
_CLASSES: dict[str, type[Specification]] = {one.category: one for one in _READERS}


@dataclass(frozen=True)
class PartCategory:
    """A category of parts for people: an example to copy, what is compared always and where asked, the standard.

    ``is_typed`` is false for free text, which is never equal to anything.
    """

    code: str
    title: str
    example: str
    compared: tuple[str, ...]
    compared_where_asked: tuple[str, ...]
    standard: str
    is_typed: bool


def known_categories() -> list[str]:
    """Categories that parts may have."""
    return sorted(_CLASSES)


def part_categories() -> list[PartCategory]:
    """Every category with its example, in the order of the codes."""
    return [
        PartCategory(
            code, one.title, one.example, one.compared, one.compared_where_asked, one.standard, one is not Other
        )
        for code, one in sorted(_CLASSES.items())
    ]


def read_with_notes(category: str, text: str) -> Reading:
    """Read a specification as people write it, with notes on what was converted or is worth a look.

    Raises `SpecificationError` naming the field and the remedy.
    """
    kind = _CLASSES.get(category)
    if kind is None:
        raise SpecificationError(
            "category", f"{category!r} is no category of parts.", f"Known: {', '.join(known_categories())}."
        )
    if not text.strip():
        raise SpecificationError(
            "specification", "The specification is empty.", f"Write what the part is: {kind.example}."
        )
    return _READERS[kind](text)


def parse_specification(category: str, text: str) -> Specification:
    """Read a specification as people write it. Raises `SpecificationError` naming the field and the remedy."""
    return read_with_notes(category, text).specification


def specification_from_json(data: Mapping[str, Any]) -> Specification:
    """A stored specification. Raises `SpecificationError` where it is not one of ours."""
    kind = _CLASSES.get(str(data.get("category")))
    if kind is None:
        raise SpecificationError("category", f"{data.get('category')!r} is no category.", "See known_categories.")
    fields: dict[str, Any] = {}
    try:
        for name, value in data.items():
            if name == "category":
                continue
            fields[name] = (
                Decimal(value) if name.endswith("_mm") else tuple(value) if isinstance(value, list) else value
            )
        return kind(**fields)
    except (TypeError, InvalidOperation) as error:
        raise SpecificationError(
            "specification", f"Its fields are not those of {kind.category}.", str(error)
        ) from error


def facts_of(stored: Mapping[str, Any] | None) -> tuple[str, tuple[Property, ...]]:
    """Designation and properties of a stored specification; nothing where no more than a category is known."""
    if not stored or len(stored) < 2:
        return "", ()
    read = specification_from_json(stored)
    return read.designation(), read.properties()


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
    "PartCategory",
    "Point",
    "Property",
    "Reading",
    "RollingBearing",
    "Specification",
    "SpecificationError",
    "compare",
    "elastomers_of",
    "facts_of",
    "known_categories",
    "parse_specification",
    "part_categories",
    "read_with_notes",
    "specification_from_json",
]
