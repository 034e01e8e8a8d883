"""Rolling bearings: ISO 15 designations by the usual numbering (DIN 623-1), ISO 5753-1 clearance, shields and seals."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.bearing_clearances import GROUPS, clearance_um
from assets.calculations.bearing_dimensions import (
    ANGULAR,
    CYLINDRICAL,
    ROLLER_FORMS,
    SPHERICAL,
    Boundary,
    boundary,
    kind_of,
)
from assets.calculations.specification_base import (
    Point,
    Property,
    Reading,
    Specification,
    SpecificationError,
    same,
    written,
)
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import tidy

_CODE = re.compile(r"(?P<prefix>NUP|NU|NJ|N)?[ -]?(?P<number>\d{2,5}(?:/\d{1,4}(?![\dA-Z]))?)(?P<rest>.*)")
_PLAIN_CODE = re.compile(r"(?:NUP|NU|NJ|N)\d{3,5}|\d{3,5}|\d{2,3}/\d{1,4}")
_SMALL_CODES = {"00": 10, "01": 12, "02": 15, "03": 17}
_EXAMPLE = "6308-2Z/C3"
# Suffixes of DIN 623-1 and what they say (value from memory); longer ones stand before those they begin with.
SEALINGS = {
    "2RS": "a rubbing seal on both sides", "RS": "a rubbing seal on one side", "2Z": "a shield on both sides",
    "Z": "a shield on one side", "2RZ": "a seal that does not rub on both sides",
    "RZ": "a seal that does not rub on one side",
}  # fmt: skip
_SEALING_NAMES = {"2RS1": "2RS", "2RSR": "2RS", "RS1": "RS", "RSR": "RS", "ZZ": "2Z"}
# Other names of suffixes; the normal tolerance class is not written.
_USUAL_NAMES = {**_SEALING_NAMES, "C0": "CN", "P0": ""}
# Letters that are suffixes of these kinds of bearing only.
_ONLY_OF = {"contact_angle": (ANGULAR,), "inner_design": (CYLINDRICAL, SPHERICAL, "")}
CONTACT_ANGLES = {"C": 15, "AC": 25, "A": 30, "B": 40}
_CAGE_MATERIALS = {
    "J": "pressed steel cage", "Y": "pressed brass cage", "M": "machined brass cage", "F": "machined steel cage",
    "L": "machined light metal cage", "TN": "moulded plastic cage", "T": "laminated phenolic cage",
}  # fmt: skip
_GUIDES = {"A": ", guided on the outer ring", "B": ", guided on the inner ring", "": ""}
CAGES = {f"{made}{guide}": words + _GUIDES[guide] for made, words in _CAGE_MATERIALS.items() for guide in _GUIDES}
FORMS = {
    "K": "tapered bore 1:12", "K30": "tapered bore 1:30", "NR": "snap ring groove with ring", "N": "snap ring groove",
}  # fmt: skip
TOLERANCES = ("P0", "P6", "P5", "P4")
HEAT = {"": 120, "S0": 150, "S1": 200, "S2": 250, "S3": 300}
_KNOWN = (
    "clearance C2 CN C3 C4 C5; Z 2Z RS 2RS RZ 2RZ; K K30 N NR; cages J Y M F L T TN; P6 P5 P4; S0 to S3; of angular "
    "contact bearings A AC B C, of roller bearings E"
)


def _any(words: Any) -> str:
    return "|".join(sorted(words, key=len, reverse=True))


_PIECES: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("tolerance and clearance", re.compile(r"(P[65]) ?-?([2345])(?!\d)")),
    ("clearance", re.compile(r"(C[02345N])(?!\d)")),
    ("tolerance_class", re.compile(r"(P[0456])(?!\d)")),
    ("sealing", re.compile(f"({_any([*SEALINGS, *_SEALING_NAMES])})(?![0-9])")),
    ("heat_stabilisation", re.compile(r"(S[0-3])(?!\d)")),
    ("form", re.compile(f"({_any(FORMS)})")),
    ("contact_angle", re.compile(f"({_any(CONTACT_ANGLES)})")),
    ("cage", re.compile(f"({_any(CAGES)})")),
    ("inner_design", re.compile(r"(E)")),
)


@dataclass(frozen=True)
class RollingBearing(Specification):
    """Designation without suffixes, clearance class (CN where none is written), and what closes it; contact angle,
    cage and further suffixes where they were written."""

    category: ClassVar[str] = "rolling-bearing"
    title: ClassVar[str] = "Rolling bearing"
    standard: ClassVar[str] = "ISO 15 boundary dimensions, ISO 5753-1 clearance, numbering after DIN 623-1"
    example: ClassVar[str] = _EXAMPLE
    compared: ClassVar[tuple[str, ...]] = ("designation", "clearance", "sealing")
    compared_where_asked: ClassVar[tuple[str, ...]] = (
        "contact angle", "cage", "bore and ring form", "inner design", "tolerance class", "heat stabilisation",
    )  # fmt: skip
    designation_code: str
    clearance: str = "CN"
    sealing: str = "open"
    contact_angle: str = ""
    cage: str = ""
    form: str = ""
    inner_design: str = ""
    tolerance_class: str = ""
    heat_stabilisation: str = ""

    @property
    def bore_mm(self) -> Decimal:
        """Bore after the numbering rule of DIN 623-1 for ISO 15 sizes."""
        return bore_of(self.designation_code)

    @property
    def kind(self) -> str:
        """What kind of bearing its series is; empty where the series is not known here."""
        found = kind_of(*_series(self.designation_code))
        return found[0] if found else ""

    @property
    def boundary(self) -> Boundary | None:
        """Outside diameter and width after ISO 15; None where they are not in the table."""
        return boundary(*_series(self.designation_code), self.bore_mm)

    def designation(self) -> str:
        dashed = (self.form, self.cage, "" if self.sealing == "open" else self.sealing)
        stroked = ("" if self.clearance == "CN" else self.clearance, self.tolerance_class, self.heat_stabilisation)
        tail = "".join(f"-{one}" for one in dashed if one) + "".join(f"/{one}" for one in stroked if one)
        return f"{self.designation_code}{self.contact_angle}{self.inner_design}{tail}"

    def alike(self) -> tuple[Any, ...]:
        return self.designation_code, self.clearance, self.sealing, self.form

    def points(self, offered: Any) -> tuple[Point, ...]:
        found = [
            same("designation", self.designation_code, offered.designation_code),
            same("clearance", self.clearance, offered.clearance),
            same("sealing", self.sealing, offered.sealing),
        ]
        if self.form or offered.form:
            found.append(written("bore and ring form", self.form, offered.form))
        if self.contact_angle:
            found.append(written("contact angle", self.contact_angle, offered.contact_angle))
        if self.cage:
            found.append(written("cage", self.cage, offered.cage))
        if self.inner_design:
            found.append(written("inner design", self.inner_design, offered.inner_design))
        if self.tolerance_class:
            closer = _rank(TOLERANCES, offered.tolerance_class) >= _rank(TOLERANCES, self.tolerance_class)
            found.append(
                Point("tolerance class", self.tolerance_class, offered.tolerance_class or "not stated", closer)
            )
        if self.heat_stabilisation:
            hotter = HEAT[offered.heat_stabilisation] >= HEAT[self.heat_stabilisation]
            given = offered.heat_stabilisation or "not stated"
            found.append(Point("heat stabilisation", self.heat_stabilisation, given, hotter))
        return tuple(found)

    def properties(self) -> tuple[Property, ...]:
        return tuple(self._described())

    def _described(self) -> list[Property]:
        prefix, _ = _series(self.designation_code)
        found = [Property("kind", self.kind or "not known by its series", "", "DIN 623-1")]
        if prefix:
            found.append(Property("form", f"{prefix}: {ROLLER_FORMS[prefix]}", "", "DIN 5412-1"))
        size = self.boundary
        found.append(Property("bore", plain(self.bore_mm), "mm", "ISO 15"))
        if size:
            source = f"ISO 15, dimension series {size.series}"
            found += [
                Property("outside diameter", plain(size.outside_mm), "mm", source),
                Property("width", plain(size.width_mm), "mm", source),
            ]
        else:
            found.append(Property("outside diameter and width", "not in the table", "", "ISO 15"))
        group = GROUPS.get(self.clearance, "not known")
        found.append(Property("clearance class", f"{self.clearance}, {group}", "", "ISO 5753-1"))
        limits = None if self.form.startswith("K") else clearance_um(self.kind, self.bore_mm, self.clearance)
        if limits:
            found.append(
                Property("radial internal clearance before mounting", f"{limits[0]} to {limits[1]}", "µm", "ISO 5753-1")
            )
        sealing = SEALINGS.get(self.sealing, self.sealing)
        found.append(Property("sealing", sealing, "", "DIN 623-1"))
        if self.contact_angle:
            found.append(Property("contact angle", str(CONTACT_ANGLES[self.contact_angle]), "°", "DIN 623-1"))
        words = (
            ("cage", CAGES.get(self.cage, "")),
            ("bore and ring form", FORMS.get(self.form, "")),
            ("inner design", "increased capacity" if self.inner_design else ""),
        )
        found += [Property(name, said, "", "DIN 623-1") for name, said in words if said]
        if self.tolerance_class:
            found.append(Property("tolerance class", self.tolerance_class, "", "ISO 492"))
        if self.heat_stabilisation:
            found.append(Property("rings stable to", str(HEAT[self.heat_stabilisation]), "°C", "DIN 623-1"))
        return found


def bore_of(designation: str) -> Decimal:
    """Bore in mm: 00-03 are 10, 12, 15, 17; from 04 five times the code; after a stroke the bore itself; three
    digits without letters before them mean a bore below 10 by the last digit. Raises `SpecificationError`."""
    digits = designation.lstrip("NUPJ")
    if "/" in digits:
        bore = Decimal(digits.split("/")[1])
    elif len(digits) == 3 and digits == designation:
        bore = Decimal(digits[-1])
    else:
        code = digits[-2:]
        if code in _SMALL_CODES:
            return Decimal(_SMALL_CODES[code])
        bore = Decimal(0) if len(digits) < 3 or code > "96" else Decimal(int(code) * 5)
    if not bore:
        raise SpecificationError("designation", f"{designation!r} names no bore.", "Write it like 6308 or 62/28.")
    return bore


def _series(code: str) -> tuple[str, str]:
    """Letters before the digits, and the digits that are not the bore's."""
    digits = code.lstrip("NUPJ")
    prefix = code[: len(code) - len(digits)]
    if "/" in digits:
        return prefix, digits.split("/")[0]
    return prefix, digits[:-1] if len(digits) == 3 and not prefix else digits[:-2]


def _rank(order: tuple[str, ...], one: str) -> int:
    return order.index(one or order[0])


def parse(text: str) -> Reading:
    """``6308``, ``6308-2Z/C3``, ``6308 C3``, ``NU308E-M``, ``7308B``, ``62/28``, ``608``. Raises
    `SpecificationError`."""
    found = _CODE.fullmatch(tidy(text).upper())
    code = f"{found['prefix'] or ''}{found['number']}" if found else ""
    if not found or not _PLAIN_CODE.fullmatch(code):
        raise SpecificationError(
            "designation", f"{text!r} is no rolling bearing.", f"Write designation, closure, clearance: {_EXAMPLE}."
        )
    bore_of(code)
    kind = kind_of(*_series(code))
    fields, notes = _suffixes(found["rest"], kind[0] if kind else "")
    bearing = RollingBearing(code, **fields)
    if bearing.boundary is None:
        notes.append(
            f"Outside diameter and width of {code} are not in the table; its bore is {plain(bearing.bore_mm)} mm."
        )
    return Reading(bearing, tuple(notes))


def _suffixes(rest: str, kind: str) -> tuple[dict[str, str], list[str]]:
    """Fields of the suffixes, any order, each once; notes where a suffix has another usual name."""
    fields: dict[str, str] = {}
    notes: list[str] = []
    left = rest.strip(" /-,")
    while left:
        field, piece = _next_suffix(left, kind)
        if field == "tolerance and clearance":
            found = {"tolerance_class": piece[1], "clearance": f"C{piece[2]}"}
            notes.append(f"{piece[0]} is tolerance class {piece[1]} with clearance C{piece[2]}.")
        else:
            found = {field: _USUAL_NAMES.get(piece[1], piece[1])}
            if piece[1] in _USUAL_NAMES:
                notes.append(f"{piece[1]} is taken as {found[field] or 'the normal class'}.")
        for name, value in found.items():
            if fields.setdefault(name, value) != value:
                words = name.replace("_", " ")
                raise SpecificationError(
                    name, f"The {words} is written twice: {fields[name]} and {value}.", "Keep one."
                )
        left = left[piece.end() :].strip(" /-,")
    return fields, notes


def _next_suffix(left: str, kind: str) -> tuple[str, re.Match[str]]:
    for field, pattern in _PIECES:
        piece = pattern.match(left) if kind in _ONLY_OF.get(field, (kind,)) else None
        if piece:
            return field, piece
    raise SpecificationError("suffix", f"The suffix {left!r} is not known here.", f"Known: {_KNOWN}.")
