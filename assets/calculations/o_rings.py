"""O-rings: ISO 3601-1 sizes, ISO 1629 materials."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, ClassVar

from assets.calculations.specification_base import (
    Point,
    Specification,
    SpecificationError,
    elastomer,
    plain,
    same,
    size,
)

# ISO 3601-1:2012 size codes with inside diameter and section in mm, for the sizes of which two sources agree or that
# are marked value from memory (112, 116, and the 3xx series but for none).
SIZE_CODES: dict[str, tuple[Decimal, Decimal]] = {
    code: (Decimal(inside), Decimal(section))
    for code, inside, section in (
        ("010", "6.07", "1.78"), ("012", "9.25", "1.78"), ("014", "12.42", "1.78"), ("016", "15.60", "1.78"),
        ("020", "21.95", "1.78"), ("024", "28.30", "1.78"), ("110", "9.19", "2.62"), ("112", "12.37", "2.62"),
        ("116", "18.72", "2.62"), ("120", "25.07", "2.62"), ("210", "18.64", "3.53"), ("214", "24.99", "3.53"),
        ("218", "31.34", "3.53"), ("222", "37.69", "3.53"), ("226", "50.39", "3.53"), ("230", "63.09", "3.53"),
        ("312", "15.24", "5.33"), ("325", "37.47", "5.33"), ("330", "53.34", "5.33"), ("340", "85.09", "5.33"),
        ("345", "100.97", "5.33"), ("425", "113.67", "6.99"),
    )
}  # fmt: skip
_TEXT = re.compile(
    r"(?:(?P<code>\d{3})|(?P<inside>\d+(?:[.,]\d+)?)\s*[xX×]\s*(?P<section>\d+(?:[.,]\d+)?))\s+"
    r"(?P<material>[A-Za-z]+)(?:\s+(?P<hardness>\d{2}))?"
)


@dataclass(frozen=True)
class ORing(Specification):
    """Inside diameter and section in mm, material, hardness in IRHD where it matters."""

    category: ClassVar[str] = "o-ring"
    inside_diameter_mm: Decimal
    section_mm: Decimal
    material: str
    hardness_irhd: int | None = None

    def designation(self) -> str:
        hardness = f" {self.hardness_irhd}" if self.hardness_irhd else ""
        return f"{plain(self.inside_diameter_mm)}x{plain(self.section_mm)} {self.material}{hardness}"

    def points(self, offered: Any) -> tuple[Point, ...]:
        found = [
            same("inside diameter", self.inside_diameter_mm, offered.inside_diameter_mm),
            same("section", self.section_mm, offered.section_mm),
            same("material", self.material, offered.material),
        ]
        if self.hardness_irhd is not None:
            found.append(same("hardness", self.hardness_irhd, offered.hardness_irhd))
        return tuple(found)

    def alike(self) -> tuple[Any, ...]:
        return self.inside_diameter_mm, self.section_mm, self.material

    def elastomers(self) -> tuple[str, ...]:
        return (self.material,)


def parse(text: str) -> ORing:
    """``50.39x3.53 EPDM 70`` or ``226 EPDM 70``. Raises `SpecificationError`."""
    found = _TEXT.fullmatch(text.strip())
    if not found:
        raise SpecificationError(
            "specification",
            f"{text!r} is no O-ring.",
            "Write inside x section, material, hardness: 50.39x3.53 EPDM 70.",
        )
    if found["code"]:
        if found["code"] not in SIZE_CODES:
            raise SpecificationError(
                "size", f"ISO 3601 size {found['code']} is not in the table.", "Write inside diameter x section in mm."
            )
        inside, section = SIZE_CODES[found["code"]]
    else:
        inside, section = size(found["inside"], "inside_diameter_mm"), size(found["section"], "section_mm")
    if section >= inside:
        raise SpecificationError("section_mm", "The section is not smaller than the ring.", "Write inside x section.")
    hardness = int(found["hardness"]) if found["hardness"] else None
    return ORing(inside, section, elastomer(found["material"]), hardness)
