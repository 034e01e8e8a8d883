"""Rolling bearings: ISO 15 designations by the usual numbering (DIN 623-1), ISO 5753 clearance, shields and seals."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import Point, Specification, SpecificationError, same

_DESIGNATION = re.compile(r"(?:NUP|NU|NJ|N)?\d{3,5}(?:/\d{2,4})?|\d{2}/\d{2}")
_TEXT = re.compile(
    r"(?P<designation>(?:NUP|NU|NJ|N)?\d{2,5}(?:/\d{2,4})?)(?:-(?P<sealing>2RS1?|2RSR|RS1?|2Z|Z))?"
    r"(?:[/\s]\s*(?P<clearance>C[2345N]))?"
)
_SMALL_CODES = {"00": 10, "01": 12, "02": 15, "03": 17}


@dataclass(frozen=True)
class RollingBearing(Specification):
    """Designation without suffixes, clearance class (CN where none is written), and what closes it."""

    category: ClassVar[str] = "rolling-bearing"
    designation_code: str
    clearance: str = "CN"
    sealing: str = "open"

    @property
    def bore_mm(self) -> Decimal:
        """Bore after the numbering rule of DIN 623-1 for ISO 15 sizes."""
        return bore_of(self.designation_code)

    def designation(self) -> str:
        sealing = "" if self.sealing == "open" else f"-{self.sealing}"
        clearance = "" if self.clearance == "CN" else f"/{self.clearance}"
        return f"{self.designation_code}{sealing}{clearance}"

    def alike(self) -> tuple[Any, ...]:
        return (self.designation_code,)

    def points(self, offered: Any) -> tuple[Point, ...]:
        return (
            same("designation", self.designation_code, offered.designation_code),
            same("clearance", self.clearance, offered.clearance),
            same("sealing", self.sealing, offered.sealing),
        )


def bore_of(designation: str) -> Decimal:
    """Bore in mm: 00-03 are 10, 12, 15, 17; from 04 five times the code; after a stroke the bore itself; three
    digits without letters before them mean a bore below 10 by the last digit. Raises `SpecificationError`."""
    digits = designation.lstrip("NUPJ")
    if "/" in digits:
        return Decimal(digits.split("/")[1])
    if len(digits) == 3 and digits == designation:
        return Decimal(digits[-1])
    code = digits[-2:]
    if code in _SMALL_CODES:
        return Decimal(_SMALL_CODES[code])
    if len(digits) < 3 or code > "96":
        raise SpecificationError("designation", f"{designation!r} names no bore.", "Write it like 6308 or 62/28.")
    return Decimal(int(code) * 5)


def parse(text: str) -> RollingBearing:
    """``6308``, ``6308-2Z/C3``, ``6308 C3``, ``NU308``, ``62/28``, ``608``. Raises `SpecificationError`."""
    found = _TEXT.fullmatch(text.strip().upper())
    if not found or not _DESIGNATION.fullmatch(found["designation"]):
        raise SpecificationError(
            "designation", f"{text!r} is no rolling bearing.", "Write designation, closure, clearance: 6308-2Z/C3."
        )
    bore_of(found["designation"])
    sealing = {None: "open", "2RS1": "2RS", "2RSR": "2RS", "RS1": "RS"}.get(found["sealing"], found["sealing"])
    return RollingBearing(found["designation"], found["clearance"] or "CN", sealing or "open")
