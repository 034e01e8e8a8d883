"""O-rings: ISO 3601-1 sizes, ISO 1629 materials, hardness, tolerance class and surface grade where written."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.o_ring_sizes import BY_CODE, BY_SIZE, SECTIONS, RingSize, as_printed, nearest
from assets.calculations.specification_base import (
    Point,
    Property,
    Reading,
    Specification,
    SpecificationError,
    elastomer,
    material_property,
    renamed,
    same,
)
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import read_sizes, tidy

SIZE_CODES: dict[str, tuple[Decimal, Decimal]] = {
    code: (one.inside_mm, one.section_mm) for code, one in BY_CODE.items()
}
GRADES = {"N": "general purpose", "S": "special", "CS": "critical"}
_GRADE_ORDER = ("N", "S", "CS")
_EXAMPLE = "50.39x3.53 EPDM 70"
_STANDARD = re.compile(r"(?:O-?RING\b[\s-]*)?(?:(?:ISO ?3601(?:-1)?(?::\d{4})?|AS ?568[A-Z]?)[\s-]+)?", re.IGNORECASE)
_CODE = re.compile(r"(?P<code>\d{3})(?P<class>[AB])?(?![\d.,]| ?x ?[\d.,]| ?mm\b| ?in)(?P<rest>.*)", re.IGNORECASE)
_METRIC_SERIES = frozenset(map(Decimal, ("1.8", "2.65", "3.55", "5.3", "7")))
_PIECES = (
    ("tolerance_class", re.compile(r"CLASS ?([AB])\b")),
    ("surface_grade", re.compile(r"GRADE ?(CS|N|S)\b|(CS|N|S)\b")),
    ("hardness_shore_a", re.compile(r"(\d{2,3})[ °]*SH(?:ORE)? ?A\b")),
    ("hardness_irhd", re.compile(r"(\d{2,3})(?: ?IRHD)?(?![A-Z\d])")),
    ("material", re.compile(r"([A-Z]+)")),
)


@dataclass(frozen=True)
class ORing(Specification):
    """Inside diameter and section in mm, material; hardness in IRHD or Shore A, class A or B, surface grade N, S or
    CS where they were written."""

    category: ClassVar[str] = "o-ring"
    title: ClassVar[str] = "O-ring"
    standard: ClassVar[str] = "ISO 3601-1 sizes, ISO 1629 material"
    example: ClassVar[str] = "226 EPDM 70"
    compared: ClassVar[tuple[str, ...]] = ("inside diameter", "section", "material")
    compared_where_asked: ClassVar[tuple[str, ...]] = ("hardness", "tolerance class", "surface grade")
    inside_diameter_mm: Decimal
    section_mm: Decimal
    material: str
    hardness_irhd: int | None = None
    hardness_shore_a: int | None = None
    tolerance_class: str = ""
    surface_grade: str = ""

    @property
    def size(self) -> RingSize | None:
        """The size of ISO 3601-1; None where it is none of the inch series."""
        return BY_SIZE.get((self.inside_diameter_mm, self.section_mm))

    def designation(self) -> str:
        words = [f"{plain(self.inside_diameter_mm)}x{plain(self.section_mm)}", self.material]
        if self.hardness_irhd is not None:
            words.append(str(self.hardness_irhd))
        if self.hardness_shore_a is not None:
            words.append(f"{self.hardness_shore_a} Shore A")
        if self.tolerance_class:
            words.append(f"class {self.tolerance_class}")
        if self.surface_grade:
            words.append(f"grade {self.surface_grade}")
        return " ".join(words)

    def points(self, offered: Any) -> tuple[Point, ...]:
        found = [
            same("inside diameter", self.inside_diameter_mm, offered.inside_diameter_mm),
            same("section", self.section_mm, offered.section_mm),
            same("material", self.material, offered.material),
        ]
        asked = self._hardness()
        if asked:
            # Both scales read the same number between 50 and 90 within the 5 points that a compound may vary (common
            # practice, no source), so the number decides; each is shown with its scale.
            found.append(Point("hardness", asked[1], offered._hardness_words(), asked[0] == offered._hardness_number()))
        if self.tolerance_class:
            serves = offered.tolerance_class in {"A", self.tolerance_class}
            found.append(
                Point("tolerance class", self.tolerance_class, offered.tolerance_class or "not stated", serves)
            )
        if self.surface_grade:
            at_least = _GRADE_ORDER[_GRADE_ORDER.index(self.surface_grade) :]
            serves = offered.surface_grade in at_least
            found.append(Point("surface grade", self.surface_grade, offered.surface_grade or "not stated", serves))
        return tuple(found)

    def alike(self) -> tuple[Any, ...]:
        return self.inside_diameter_mm, self.section_mm, self.material

    def elastomers(self) -> tuple[str, ...]:
        return (self.material,)

    def properties(self) -> tuple[Property, ...]:
        size = self.size
        source = f"ISO 3601-1, size code {size.code}" if size else "as written"
        found = [
            Property("inside diameter", plain(self.inside_diameter_mm), "mm", source),
            Property("section", plain(self.section_mm), "mm", source),
        ]
        if size:
            found += [
                Property("size code", size.code, "", "ISO 3601-1; the dash number of AS568"),
                Property("inside diameter", plain(size.inside_in), "in", "AS568"),
                Property("section", plain(size.section_in), "in", "AS568"),
            ]
            if size.code not in {"001", "002", "003"}:
                found.append(Property("section tolerance", f"±{SECTIONS[size.code[0]][1]}", "mm", "ISO 3601-1"))
        outside = self.inside_diameter_mm + 2 * self.section_mm
        found += [Property("outside diameter", plain(outside), "mm", "computed"), material_property(self.material)]
        if self.hardness_irhd is not None:
            found.append(Property("hardness", str(self.hardness_irhd), "IRHD", "ISO 48-2"))
        if self.hardness_shore_a is not None:
            found.append(Property("hardness", str(self.hardness_shore_a), "Shore A", "ISO 48-4"))
        if self.tolerance_class:
            found.append(Property("tolerance class", self.tolerance_class, "", "ISO 3601-1"))
        if self.surface_grade:
            words = f"{self.surface_grade}, {GRADES[self.surface_grade]}"
            found.append(Property("surface grade", words, "", "ISO 3601-3"))
        return tuple(found)

    def _hardness(self) -> tuple[int, str] | None:
        number = self._hardness_number()
        return None if number is None else (number, self._hardness_words())

    def _hardness_number(self) -> int | None:
        return self.hardness_irhd if self.hardness_irhd is not None else self.hardness_shore_a

    def _hardness_words(self) -> str:
        if self.hardness_irhd is not None:
            return f"{self.hardness_irhd} IRHD"
        return "not stated" if self.hardness_shore_a is None else f"{self.hardness_shore_a} Shore A"


def parse(text: str) -> Reading:
    """``50.39x3.53 EPDM 70``, ``226 EPDM 70``, ``1.984 in x .139 in FKM 75 Shore A``, ``ISO 3601-1-226B-50.39x3.53-N
    EPDM 70``. Raises `SpecificationError`."""
    mended = tidy(text)
    head = _STANDARD.match(mended)
    body = mended[head.end() :] if head else mended
    inside, section, rest, tolerance_class, notes = _sizes(body)
    pieces = _pieces(rest)
    if "material" not in pieces:
        raise SpecificationError("material", "The material is not written.", f"Add its ISO 1629 code: {_EXAMPLE}.")
    if tolerance_class and pieces.setdefault("tolerance_class", tolerance_class) != tolerance_class:
        raise SpecificationError("tolerance_class", "Two tolerance classes are written.", "Keep one: A or B.")
    ring = ORing(
        inside,
        section,
        elastomer(pieces["material"]),
        _hardness(pieces.get("hardness_irhd"), "hardness_irhd"),
        _hardness(pieces.get("hardness_shore_a"), "hardness_shore_a"),
        pieces.get("tolerance_class", ""),
        pieces.get("surface_grade", ""),
    )
    return Reading(ring, (*notes, *renamed(pieces["material"]), *_mix_ups(ring)))


def _sizes(body: str) -> tuple[Decimal, Decimal, str, str, tuple[str, ...]]:
    code = _CODE.fullmatch(body)
    rest, tolerance_class = body, ""
    known = None
    if code:
        known = BY_CODE.get(code["code"])
        if known is None:
            raise SpecificationError(
                "size", f"ISO 3601-1 has no size code {code['code']}.", f"Write inside diameter x section: {_EXAMPLE}."
            )
        rest, tolerance_class = code["rest"].strip(" -"), (code["class"] or "").upper()
        if not re.match(r"[\d.,]+ ?(?:mm|in|\")? ?x", rest, re.IGNORECASE):
            return known.inside_mm, known.section_mm, rest, tolerance_class, ()
    sizes = read_sizes(rest, ("inside_diameter_mm", "section_mm"), "O-ring", f"inside x section, material: {_EXAMPLE}")
    inside, section = as_printed(*sizes.values)
    if known and (inside, section) != (known.inside_mm, known.section_mm):
        raise SpecificationError(
            "size",
            f"Size code {known.code} is {plain(known.inside_mm)}x{plain(known.section_mm)} mm, not what is written.",
            "Keep the one or the other.",
        )
    if section >= inside and (inside, section) not in BY_SIZE:
        raise SpecificationError(
            "section_mm", "The section is not smaller than the inside diameter.", f"Write inside x section: {_EXAMPLE}."
        )
    return inside, section, sizes.rest, tolerance_class, sizes.notes


def _pieces(rest: str) -> dict[str, str]:
    """What follows the sizes, by what it is; any order, each once."""
    found: dict[str, str] = {}
    left = rest.upper().strip(" -,")
    while left:
        name, piece = _next_piece(left)
        other = {"hardness_irhd": "hardness_shore_a", "hardness_shore_a": "hardness_irhd"}.get(name, "")
        if name in found or other in found:
            words = "hardness" if other else name.replace("_", " ")
            raise SpecificationError(name, f"The {words} is written twice: {piece[0]!r} is one too many.", "Keep one.")
        found[name] = next(one for one in piece.groups() if one)
        left = left[piece.end() :].strip(" -,")
    return found


def _next_piece(left: str) -> tuple[str, re.Match[str]]:
    for name, pattern in _PIECES:
        piece = pattern.match(left)
        if piece:
            return name, piece
    raise SpecificationError(
        "specification", f"{left!r} is not understood.", f"Write size, material, hardness: {_EXAMPLE}."
    )


def _hardness(text: str | None, field: str) -> int | None:
    if text is None:
        return None
    if not 20 <= int(text) <= 100:
        raise SpecificationError(field, f"{text} is no hardness of an O-ring.", "Write 20 to 100, mostly 70 or 90.")
    return int(text)


def _mix_ups(ring: ORing) -> tuple[str, ...]:
    if ring.size:
        return ()
    near = nearest(ring.inside_diameter_mm, ring.section_mm)
    found = []
    if near:
        size = f"{plain(near.inside_mm)}x{plain(near.section_mm)}"
        found.append(f"Near ISO 3601-1 size code {near.code} ({size} mm), but another ring: never taken for it.")
    if ring.section_mm in _METRIC_SERIES:
        found.append(
            f"{plain(ring.section_mm)} mm is a section of the older metric series; the inch series is another family."
        )
    return tuple(found)
