"""Limits and fits for shafts, housings and rolling bearings: ISO 286 tolerance classes and ISO 492 bearing tolerances.

Sizes in millimetres, deviations in micrometres. Standard tolerances are looked up (ISO 286-1 rounds its tables, so
they are never computed); deviations follow from the fundamental deviation and the tolerance as ISO 286-1 prescribes.
Where a table was not at hand in print it is marked *value from memory*; the tests hold every class up to 400 mm
against an independent table.
"""

import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.written_numbers import plain

COMPARED, MEMORY = "compared with an independent source by the tests", "value from memory"
ISO_286 = "ISO 286-1:2010"
ISO_492 = "ISO 492, normal class, radial bearings except tapered roller bearings"

MICROMETRES_PER_MM = Decimal(1000)

# Upper ends of the size bands, "over ... up to and including"; the first begins over 3 mm (ISO 286-1:2010 table 1).
_SMALLEST = Decimal(3)
_BANDS = (6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
# Some letters split these bands (ISO 286-1:2010 tables 2 to 5).
_FINE_BANDS = (
    6, 10, 14, 18, 24, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180, 200, 225, 250, 280, 315, 355, 400, 450, 500,
)  # fmt: skip

# Standard tolerances in micrometres by grade and band (ISO 286-1:2010 table 1; IT4, IT9 to IT14 value from memory).
_GRADES = {
    4: (4, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20),
    5: (5, 6, 8, 9, 11, 13, 15, 18, 20, 23, 25, 27),
    6: (8, 9, 11, 13, 16, 19, 22, 25, 29, 32, 36, 40),
    7: (12, 15, 18, 21, 25, 30, 35, 40, 46, 52, 57, 63),
    8: (18, 22, 27, 33, 39, 46, 54, 63, 72, 81, 89, 97),
    9: (30, 36, 43, 52, 62, 74, 87, 100, 115, 130, 140, 155),
    10: (48, 58, 70, 84, 100, 120, 140, 160, 185, 210, 230, 250),
    11: (75, 90, 110, 130, 160, 190, 220, 250, 290, 320, 360, 400),
    12: (120, 150, 180, 210, 250, 300, 350, 400, 460, 520, 570, 630),
    13: (180, 220, 270, 330, 390, 460, 540, 630, 720, 810, 890, 970),
    14: (300, 360, 430, 520, 620, 740, 870, 1000, 1150, 1300, 1400, 1550),
}

# Fundamental deviations of shafts in micrometres (ISO 286-1:2010 tables 2 to 5, value from memory): the upper
# deviation for a to h, the lower one for k to z; where a row is longer it goes by the fine bands, and None stands where
# the standard has no deviation.
_UPPER: dict[str, tuple[int, ...]] = {
    "a": (
        -270, -280, -290, -290, -300, -300, -310, -320, -340, -360, -380, -410, -460, -520, -580, -660, -740, -820,
        -920, -1050, -1200, -1350, -1500, -1650,
    ),
    "b": (
        -140, -150, -150, -150, -160, -160, -170, -180, -190, -200, -220, -240, -260, -280, -310, -340, -380, -420,
        -480, -540, -600, -680, -760, -840,
    ),
    "c": (
        -70, -80, -95, -95, -110, -110, -120, -130, -140, -150, -170, -180, -200, -210, -230, -240, -260, -280, -300,
        -330, -360, -400, -440, -480,
    ),
    "d": (-30, -40, -50, -65, -80, -100, -120, -145, -170, -190, -210, -230),
    "e": (-20, -25, -32, -40, -50, -60, -72, -85, -100, -110, -125, -135),
    "f": (-10, -13, -16, -20, -25, -30, -36, -43, -50, -56, -62, -68),
    "g": (-4, -5, -6, -7, -9, -10, -12, -14, -15, -17, -18, -20),
    "h": (0,) * 12,
}  # fmt: skip
_LOWER: dict[str, tuple[int | None, ...]] = {
    "k": (1, 1, 1, 2, 2, 2, 3, 3, 4, 4, 4, 5),
    "m": (4, 6, 7, 8, 9, 11, 13, 15, 17, 20, 21, 23),
    "n": (8, 10, 12, 15, 17, 20, 23, 27, 31, 34, 37, 40),
    "p": (12, 15, 18, 22, 26, 32, 37, 43, 50, 56, 62, 68),
    "r": (
        15, 19, 23, 23, 28, 28, 34, 34, 41, 43, 51, 54, 63, 65, 68, 77, 80, 84, 94, 98, 108, 114, 126, 132,
    ),
    "s": (
        19, 23, 28, 28, 35, 35, 43, 43, 53, 59, 71, 79, 92, 100, 108, 122, 130, 140, 158, 170, 190, 208, 232, 252,
    ),
    "t": (
        None, None, None, None, None, 41, 48, 54, 66, 75, 91, 104, 122, 134, 146, 166, 180, 196, 218, 240, 268, 294,
        330, 360,
    ),
    "u": (
        23, 28, 33, 33, 41, 48, 60, 70, 87, 102, 124, 144, 170, 190, 210, 236, 258, 284, 315, 350, 390, 435, 490, 540,
    ),
    "x": (
        28, 34, 40, 45, 54, 64, 80, 97, 122, 146, 178, 210, 248, 280, 310, 350, 385, 425, 475, 525, 590, 660, 740, 820,
    ),
    "z": (
        35, 42, 50, 60, 73, 88, 112, 136, 172, 210, 258, 310, 365, 415, 465, 520, 575, 640, 710, 790, 900, 1000, 1100,
        1250,
    ),
}  # fmt: skip
# j and J follow no rule: the lower deviation of the shaft, the upper one of the hole, by grade.
_LOWER_J = {
    5: (-2, -2, -3, -4, -5, -7, -9, -11, -13, -16, -18, -20),
    6: (-2, -2, -3, -4, -5, -7, -9, -11, -13, -16, -18, -20),
    7: (-4, -5, -6, -8, -10, -12, -15, -18, -21, -26, -28, -32),
}
_UPPER_HOLE_J = {
    6: (5, 5, 6, 8, 10, 13, 16, 18, 22, 25, 29, 33),
    7: (6, 8, 10, 12, 14, 18, 22, 26, 30, 36, 39, 43),
    8: (10, 12, 15, 20, 24, 28, 34, 41, 47, 55, 60, 66),
}
# k has its deviation from IT4 to IT7 and none at all above; K is not given above IT8 over 3 mm.
_HIGHEST_WITH_DEVIATION_K, _HIGHEST_HOLE_K = 7, 8
_MOVED = frozenset("KMNPRSTUXZ")
_CLASS = re.compile(r"(js|JS|[a-hjkmnprstuxz]|[A-HJKMNPRSTUXZ])(\d{1,2})")
# What the tests hold against an independent table: these letters, up to this grade and size.
_COMPARED = frozenset(["d", "e", "f", "g", "h", "j", "js", "k", "m", "n", "p", "r"])
_COMPARED_GRADE, _COMPARED_MM = 11, Decimal(400)

# Normal class, mean bore and mean outside diameter in one plane: the upper deviation is 0, the lower one stands here
# (ISO 492; outside diameters, and bores over 250 mm, value from memory).
_BORE = (
    (Decimal("2.5"), -8), (Decimal(10), -8), (Decimal(18), -8), (Decimal(30), -10), (Decimal(50), -12),
    (Decimal(80), -15), (Decimal(120), -20), (Decimal(180), -25), (Decimal(250), -30), (Decimal(315), -35),
    (Decimal(400), -40), (Decimal(500), -45), (Decimal(630), -50), (Decimal(800), -75), (Decimal(1000), -100),
)  # fmt: skip
_OUTSIDE = (
    (Decimal(18), -8), (Decimal(30), -9), (Decimal(50), -11), (Decimal(80), -13), (Decimal(120), -15),
    (Decimal(150), -18), (Decimal(180), -25), (Decimal(250), -30), (Decimal(315), -35), (Decimal(400), -40),
    (Decimal(500), -45),
)  # fmt: skip
_SMALLEST_BORE, _SMALLEST_OUTSIDE = Decimal("0.6"), Decimal("2.5")


class SizeOutsideTable(ValueError):
    """No table here reaches this size."""


class UnknownToleranceClass(ValueError):
    """The text is no tolerance class that is known here."""


@dataclass(frozen=True)
class Deviations:
    """Upper and lower deviation from the nominal size, in micrometres."""

    upper_um: Decimal
    lower_um: Decimal

    def sizes(self, nominal_mm: Decimal) -> tuple[Decimal, Decimal]:
        """(smallest, largest) size in millimetres."""
        return (
            nominal_mm + self.lower_um / MICROMETRES_PER_MM,
            nominal_mm + self.upper_um / MICROMETRES_PER_MM,
        )


@dataclass(frozen=True)
class Fit:
    """Interference in micrometres: positive where the shaft is larger than the hole, negative for clearance."""

    smallest_interference_um: Decimal
    largest_interference_um: Decimal

    @property
    def kind(self) -> str:
        """Clearance, transition or interference fit (ISO 286-1:2010, 3.3.4)."""
        if self.largest_interference_um <= 0:
            return "clearance fit"
        return "interference fit" if self.smallest_interference_um >= 0 else "transition fit"

    def words(self) -> str:
        """The fit in words, for a sheet: what is loose and what is tight."""
        loosest, tightest = -self.smallest_interference_um, self.largest_interference_um
        if self.kind == "clearance fit":
            return f"Clearance fit: {_um(-tightest)} to {_um(loosest)} \N{MICRO SIGN}m of clearance."
        if self.kind == "interference fit":
            return f"Interference fit: {_um(-loosest)} to {_um(tightest)} \N{MICRO SIGN}m of interference."
        return (
            f"Transition fit: from {_um(loosest)} \N{MICRO SIGN}m of clearance to {_um(tightest)} "
            "\N{MICRO SIGN}m of interference."
        )


def standard_tolerance(size_mm: Decimal, grade: int) -> Decimal:
    """The tolerance of a grade at a size in micrometres, over 3 up to 500 mm (ISO 286-1:2010 table 1).

    Raises `SizeOutsideTable`, `UnknownToleranceClass`.
    """
    if grade not in _GRADES:
        raise UnknownToleranceClass(f"Grade IT{grade} is not known here; IT{min(_GRADES)} to IT{max(_GRADES)} are.")
    return Decimal(_GRADES[grade][_band(size_mm, _BANDS)])


def deviations(size_mm: Decimal, tolerance_class: str) -> Deviations:
    """Limit deviations of a class such as ``k5`` (shaft, small letter) or ``H7`` (hole, capital letter).

    Raises `SizeOutsideTable`, `UnknownToleranceClass`. Source: ISO 286-1:2010, tables 1 to 5 and 4.3.2.
    """
    letter, grade = parse_class(tolerance_class)
    width = standard_tolerance(size_mm, grade)
    if letter in {"js", "JS"}:
        return Deviations(width / 2, -width / 2)
    if letter.islower():
        return _shaft(size_mm, letter, grade, width)
    return _hole(size_mm, letter, grade, width)


def parse_class(tolerance_class: str) -> tuple[str, int]:
    """(letter, grade) of a tolerance class. Raises `UnknownToleranceClass`."""
    found = _CLASS.fullmatch(tolerance_class.strip())
    if found is None:
        raise UnknownToleranceClass(
            f"{tolerance_class!r} is no tolerance class known here; write a shaft like k5, a housing like H7."
        )
    letter, grade = found[1], int(found[2])
    known = _LOWER_J if letter == "j" else _UPPER_HOLE_J if letter == "J" else _GRADES
    highest = _HIGHEST_HOLE_K if letter == "K" else max(known)
    # What moves up by the difference to the next finer grade needs that grade as well.
    finest = min(_GRADES) + 1 if letter in _MOVED else min(known)
    if grade not in known or not finest <= grade <= highest:
        grades = [one for one in known if finest <= one <= highest]
        raise UnknownToleranceClass(f"{tolerance_class} is not known here; {letter} comes with grades {grades}.")
    return letter, grade


def confidence(size_mm: Decimal, tolerance_class: str) -> str:
    """How sure this service is of a class at a size: compared with an independent table, or from memory.

    Raises `UnknownToleranceClass`.
    """
    letter, grade = parse_class(tolerance_class)
    # Beyond these grades other rules hold, of which that table has no example.
    by_other_rule = (letter == "k" and grade > 7) or (letter in "KMNPR" and not 6 <= grade <= 8)
    reached = letter.lower() in _COMPARED and grade <= _COMPARED_GRADE and size_mm <= _COMPARED_MM
    return COMPARED if reached and not by_other_rule else MEMORY


def _shaft(size_mm: Decimal, letter: str, grade: int, width: Decimal) -> Deviations:
    if letter in _UPPER:
        upper = _of_row(_UPPER[letter], size_mm, letter)
        return Deviations(upper, upper - width)
    lower = _lower_of_shaft(size_mm, letter, grade)
    return Deviations(lower + width, lower)


def _lower_of_shaft(size_mm: Decimal, letter: str, grade: int) -> Decimal:
    if letter == "k" and grade > _HIGHEST_WITH_DEVIATION_K:
        return Decimal(0)
    return _of_row(_LOWER_J[grade] if letter == "j" else _LOWER[letter], size_mm, letter)


def _of_row(row: Sequence[int | None], size_mm: Decimal, letter: str) -> Decimal:
    found = row[_band(size_mm, _FINE_BANDS if len(row) == len(_FINE_BANDS) else _BANDS)]
    if found is None:
        raise SizeOutsideTable(f"ISO 286-1 has no deviation {letter} at {size_mm} mm.")
    return Decimal(found)


def _hole(size_mm: Decimal, letter: str, grade: int, width: Decimal) -> Deviations:
    small = letter.lower()
    if small in _UPPER:
        lower = -_of_row(_UPPER[small], size_mm, letter)
        return Deviations(lower + width, lower)
    if letter == "J":
        upper = _of_row(_UPPER_HOLE_J[grade], size_mm, letter)
        return Deviations(upper, upper - width)
    if letter == "N" and grade > 8:
        return Deviations(Decimal(0), -width)
    upper = -_lower_of_shaft(size_mm, small, min(grade, _HIGHEST_WITH_DEVIATION_K))
    # K, M, N up to IT8 and P to Z up to IT7 move up by the difference to the next finer grade, so that with the shaft
    # one grade finer they give the fit of the same name on the hole basis (ISO 286-1:2010 4.3.2).
    if grade <= (8 if letter in "KMN" else 7):
        upper += width - standard_tolerance(size_mm, grade - 1)
    if letter == "M" and grade == 6 and Decimal(250) < size_mm <= Decimal(315):
        upper = Decimal(-9)  # The table's own exception.
    return Deviations(upper, upper - width)


def bearing_bore(bore_mm: Decimal) -> Deviations:
    """Deviations of the mean bore of a normal-class radial bearing (ISO 492). Raises `SizeOutsideTable`."""
    return _bearing(bore_mm, _BORE, _SMALLEST_BORE, "bearing bore")


def bearing_outside(diameter_mm: Decimal) -> Deviations:
    """Deviations of the mean outside diameter of a normal-class radial bearing (ISO 492). Raises `SizeOutsideTable`."""
    return _bearing(diameter_mm, _OUTSIDE, _SMALLEST_OUTSIDE, "bearing outside diameter")


def _bearing(size_mm: Decimal, table: tuple[tuple[Decimal, int], ...], smallest: Decimal, name: str) -> Deviations:
    if size_mm.is_finite() and size_mm >= smallest:
        for up_to, lower in table:
            if size_mm <= up_to:
                return Deviations(Decimal(0), Decimal(lower))
    raise SizeOutsideTable(
        f"No table here holds a {name} of {size_mm} mm; they reach from {smallest} to {table[-1][0]} mm."
    )


def fit(hole: Deviations, shaft: Deviations) -> Fit:
    """The fit of a shaft in a hole of the same nominal size (ISO 286-1:2010, 3.3)."""
    return Fit(shaft.lower_um - hole.upper_um, shaft.upper_um - hole.lower_um)


def _um(value: Decimal) -> str:
    return f"{plain(value)}" if value else "0"


def _band(size_mm: Decimal, bands: tuple[int, ...]) -> int:
    if not size_mm.is_finite() or not _SMALLEST < size_mm <= bands[-1]:
        raise SizeOutsideTable(f"{size_mm} mm is outside the tables, over {_SMALLEST} up to {bands[-1]} mm.")
    return bisect_left(bands, size_mm)
