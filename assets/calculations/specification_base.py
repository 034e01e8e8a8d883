"""What every typed specification has, and how two are compared."""

import dataclasses
import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.written_numbers import plain


class SpecificationError(ValueError):
    """A specification that cannot be read: the field, what is wrong, and what would help."""

    def __init__(self, field: str, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.field, self.what, self.remedy = field, what, remedy


@dataclass(frozen=True)
class Point:
    """One thing compared: its name, what was asked, what is offered, whether that serves."""

    name: str
    asked: str
    offered: str
    same: bool


@dataclass(frozen=True)
class Comparison:
    """``equal``: the offered part serves in all that matters. ``comparable``: both are of one typed category."""

    equal: bool
    comparable: bool
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Property:
    """One fact that a specification tells: its name, value, unit (empty for words), and whose figure it is."""

    name: str
    value: str
    unit: str = ""
    source: str = ""


@dataclass(frozen=True)
class Specification:
    """A typed specification; subclasses name their category, its standard and an example, and say what matters."""

    category: ClassVar[str] = ""
    title: ClassVar[str] = ""
    standard: ClassVar[str] = ""
    example: ClassVar[str] = ""
    compared: ClassVar[tuple[str, ...]] = ()
    compared_where_asked: ClassVar[tuple[str, ...]] = ()

    def designation(self) -> str:
        """Canonical text; reading it gives the same specification."""
        raise NotImplementedError

    def points(self, offered: Any) -> tuple[Point, ...]:
        """What matters, compared with an offered specification of the same category."""
        raise NotImplementedError

    def properties(self) -> tuple[Property, ...]:
        """What the specification tells, decoded, with units and the standard that says so."""
        return ()

    def elastomers(self) -> tuple[str, ...]:
        """ISO 1629 codes the part brings."""
        return ()

    def faces(self) -> tuple[str, ...]:
        """Letters of EN 12756 for the seal faces the part brings, such as ``Q1`` and ``B``."""
        return ()

    def alike(self) -> tuple[Any, ...]:
        """What two specifications must share exactly for one to be equal to the other, for finding candidates: where
        ``points`` are all the same, this is equal; the reverse need not hold."""
        return ()

    def to_json(self) -> dict[str, Any]:
        """JSON-safe fields with the category; decimals as text."""
        fields = {one.name: getattr(self, one.name) for one in dataclasses.fields(self)}
        return {"category": self.category, **{name: _plain(value) for name, value in fields.items()}}


@dataclass(frozen=True)
class Reading:
    """A specification read from text, with what is worth telling whoever wrote it: conversions, older names."""

    specification: Specification
    notes: tuple[str, ...] = ()


def _plain(value: Any) -> Any:
    return plain(value) if isinstance(value, Decimal) else list(value) if isinstance(value, tuple) else value


def same(name: str, asked: Any, offered: Any) -> Point:
    """A point that must be equal."""
    words = [plain(one) if isinstance(one, Decimal) else str(one) for one in (asked, offered)]
    return Point(name, words[0], words[1], asked == offered)


def written(name: str, asked: str, offered: str) -> Point:
    """A point that must be equal, where nothing may be written: said as *not stated*."""
    return Point(name, asked or "not stated", offered or "not stated", asked == offered)


# ISO 1629 codes of the elastomers in use with their polymers (value from memory).
POLYMERS: dict[str, str] = {
    "NBR": "acrylonitrile-butadiene rubber",
    "HNBR": "hydrogenated acrylonitrile-butadiene rubber",
    "EPDM": "ethylene-propylene-diene rubber",
    "EPM": "ethylene-propylene rubber",
    "FKM": "fluorocarbon rubber",
    "FFKM": "perfluorocarbon rubber",
    "VMQ": "silicone rubber",
    "FVMQ": "fluorosilicone rubber",
    "CR": "chloroprene rubber",
    "AU": "polyester urethane rubber",
    "EU": "polyether urethane rubber",
    "NR": "natural rubber",
    "IR": "isoprene rubber",
    "BR": "butadiene rubber",
    "SBR": "styrene-butadiene rubber",
    "IIR": "butyl rubber",
    "FEPM": "tetrafluoroethylene-propylene rubber",
    "ACM": "acrylic rubber",
    "ECO": "epichlorohydrin copolymer rubber",
    "CSM": "chlorosulphonated polyethylene rubber",
}
ELASTOMERS = tuple(POLYMERS)
# Older names that still stand on drawings (value from memory).
ALIASES = {"FPM": "FKM", "FFPM": "FFKM", "MVQ": "VMQ", "MFQ": "FVMQ", "FMQ": "FVMQ"}
_MATERIAL = re.compile(r"[A-Z0-9](?:[A-Z0-9 +./-]{0,38}[A-Z0-9])?")


def elastomer(text: str, field: str = "material") -> str:
    """The ISO 1629 code of an elastomer. Raises `SpecificationError` naming the known ones."""
    code = ALIASES.get(text.upper(), text.upper())
    if code not in POLYMERS:
        raise SpecificationError(
            field, f"{text!r} is no elastomer of ISO 1629 known here.", f"Known: {', '.join(ELASTOMERS)}."
        )
    return code


def material(text: str, example: str) -> str:
    """A material as written, in capitals, older names of elastomers replaced. Raises `SpecificationError`."""
    words = " ".join(text.upper().split())
    if not words:
        raise SpecificationError("material", "The material is not written.", f"Add it: {example}.")
    if not _MATERIAL.fullmatch(words):
        raise SpecificationError(
            "material", f"{text.strip()!r} is no name of a material.", f"Use letters, digits and - + . /: {example}."
        )
    return ALIASES.get(words, words)


def renamed(text: str) -> tuple[str, ...]:
    """A note where an elastomer is written by its older name."""
    words = " ".join(text.upper().split())
    return (f"{words} is the older name of {ALIASES[words]} (ISO 1629).",) if words in ALIASES else ()


def rubber(code: str) -> tuple[str, ...]:
    """The material where it is an elastomer, else nothing."""
    return (code,) if code in POLYMERS else ()


def material_property(code: str) -> Property:
    """A material in words where it is an elastomer of ISO 1629, else as written."""
    return Property("material", f"{code}, {POLYMERS[code]}", "", "ISO 1629") if code in POLYMERS else as_written(code)


def as_written(code: str) -> Property:
    """A material that no standard known here decodes."""
    return Property("material", code, "", "as written")
