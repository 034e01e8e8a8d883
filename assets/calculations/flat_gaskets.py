"""Flat gaskets: rings by their sizes, and those for flanges by DN and PN after EN 1514-1, form IBC."""

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from assets.calculations.plain_rings import Ring, made, parse_ring
from assets.calculations.specification_base import Property, Reading, SpecificationError, material, renamed
from assets.calculations.written_numbers import plain
from assets.calculations.written_sizes import read_sizes, tidy

# EN 1514-1:1997 form IBC (inside the bolt circle): DN, inside diameter, outside diameter for PN 6, 10, 16, 25 and 40
# in mm (value from memory).
PRESSURES = (6, 10, 16, 25, 40)
_ROWS = """
    10   18   39  46  46  46  46
    15   22   44  51  51  51  51
    20   27   54  61  61  61  61
    25   34   64  71  71  71  71
    32   43   76  82  82  82  82
    40   49   86  92  92  92  92
    50   61   96  107 107 107 107
    65   77   116 127 127 127 127
    80   89   132 142 142 142 142
    100  115  152 162 162 168 168
    125  141  182 192 192 194 194
    150  169  207 218 218 224 224
    200  220  262 273 273 284 290
    250  273  317 328 329 340 352
    300  324  373 378 384 400 417
"""
_NUMBERS = [list(map(int, row.split())) for row in _ROWS.split("\n") if row.strip()]
INSIDE_MM: dict[int, int] = {row[0]: row[1] for row in _NUMBERS}
OUTSIDE_MM: dict[tuple[int, int], int] = {
    (row[0], pressure): size for row in _NUMBERS for pressure, size in zip(PRESSURES, row[2:], strict=True)
}
_FLANGE = re.compile(
    r"(?:EN ?1514-1[ -]+)?(?:IBC[ -]*)?DN ?(?P<dn>\d{1,4})[ /-]*PN ?(?P<pn>\d{1,3})[ x/-]+(?P<rest>.*)", re.I
)


@dataclass(frozen=True)
class FlatGasket(Ring):
    """Outside diameter, inside diameter, thickness."""

    category: ClassVar[str] = "flat-gasket"
    title: ClassVar[str] = "Flat gasket"
    standard: ClassVar[str] = "EN 1514-1 form IBC where written by DN and PN; else sizes in mm"
    names: ClassVar[tuple[str, str, str]] = ("outside diameter", "inside diameter", "thickness")
    inner: ClassVar[int] = 1
    outer: ClassVar[int] = 0
    compared: ClassVar[tuple[str, ...]] = (*names, "material")
    example: ClassVar[str] = "180x150x0.5 FIBRE"

    @property
    def flanges(self) -> tuple[tuple[int, int], ...]:
        """Nominal sizes and pressures (DN, PN) of flanges that a ring of these diameters is for."""
        return tuple(
            (dn, pn)
            for (dn, pn), outside in OUTSIDE_MM.items()
            if outside == self.first_mm and INSIDE_MM[dn] == self.second_mm
        )

    def properties(self) -> tuple[Property, ...]:
        found = list(super().properties())
        if self.flanges:
            pressures = ", ".join(str(pn) for _, pn in self.flanges)
            found.append(Property("flange", f"DN {self.flanges[0][0]} PN {pressures}", "", "EN 1514-1, form IBC"))
        return tuple(found)


def parse(text: str) -> Reading:
    """``180x150x0.5 FIBRE`` or ``DN80 PN16 1.5 FIBRE``. Raises `SpecificationError`."""
    flange = _FLANGE.fullmatch(tidy(text))
    if not flange:
        return parse_ring(FlatGasket, text)
    dn, pn = int(flange["dn"]), int(flange["pn"])
    if dn not in INSIDE_MM:
        raise SpecificationError(
            "nominal_size", f"DN {dn} is not in the table of EN 1514-1.", f"Known: {', '.join(map(str, INSIDE_MM))}."
        )
    if pn not in PRESSURES:
        raise SpecificationError(
            "nominal_pressure",
            f"PN {pn} is not in the table of EN 1514-1.",
            f"Known: {', '.join(map(str, PRESSURES))}.",
        )
    example = "DN80 PN16 1.5 FIBRE"
    written = read_sizes(flange["rest"], ("thickness",), "flat gasket", example)
    sizes = Decimal(OUTSIDE_MM[dn, pn]), Decimal(INSIDE_MM[dn]), written.values[0]
    gasket = made(FlatGasket, sizes, material(written.rest, example))
    note = f"DN {dn} PN {pn} is {'x'.join(map(plain, sizes))} mm (EN 1514-1, form IBC, inside the bolt circle)."
    return Reading(gasket, (note, *written.notes, *renamed(written.rest)))
