"""Boundary dimensions of radial rolling bearings after ISO 15:2017 (value from memory).

ISO 15 orders them by dimension series: its width digit before its diameter digit. Bearings of different kinds but of
one dimension series share bore, outside diameter and width, so each is written down once.
"""

from dataclasses import dataclass
from decimal import Decimal

# Dimension series: bore, outside diameter and width in mm.
_ROWS = {
    "18": "10 19 5, 12 21 5, 15 24 5, 17 26 5, 20 32 7, 25 37 7, 30 42 7, 35 47 7, 40 52 7, 45 58 7, 50 65 7, 55 72 9, "
          "60 78 10, 65 85 10, 70 90 10, 75 95 10, 80 100 10, 85 110 13, 90 115 13, 95 120 13, 100 125 13, "
          "105 130 13, 110 140 16, 120 150 16",
    "19": "10 22 6, 12 24 6, 15 28 7, 17 30 7, 20 37 9, 25 42 9, 30 47 9, 35 55 10, 40 62 12, 45 68 12, 50 72 12, "
          "55 80 13, 60 85 13, 65 90 13, 70 100 16, 75 105 16, 80 110 16, 85 120 18, 90 125 18, 95 130 18, 100 140 20, "
          "105 145 20, 110 150 20, 120 165 22",
    "00": "15 32 8, 17 35 8, 20 42 8, 25 47 8, 30 55 9, 35 62 9, 40 68 9, 45 75 10, 50 80 10, 55 90 11, 60 95 11, "
          "65 100 11, 70 110 13, 75 115 13, 80 125 14, 85 130 14, 90 140 16, 95 145 16, 100 150 16, 105 160 18, "
          "110 170 19, 120 180 19",
    "10": "4 12 4, 5 14 5, 6 17 6, 7 19 6, 8 22 7, 9 24 7, 10 26 8, 12 28 8, 15 32 9, 17 35 10, 20 42 12, 22 44 12, "
          "25 47 12, 28 52 12, 30 55 13, 32 58 13, 35 62 14, 40 68 15, 45 75 16, 50 80 16, 55 90 18, 60 95 18, "
          "65 100 18, 70 110 20, 75 115 20, 80 125 22, 85 130 22, 90 140 24, 95 145 24, 100 150 24, 105 160 26, "
          "110 170 28, 120 180 28",
    "02": "3 10 4, 4 13 5, 5 16 5, 6 19 6, 7 22 7, 8 24 8, 9 26 8, 10 30 9, 12 32 10, 15 35 11, 17 40 12, 20 47 14, "
          "22 50 14, 25 52 15, 28 58 16, 30 62 16, 32 65 17, 35 72 17, 40 80 18, 45 85 19, 50 90 20, 55 100 21, "
          "60 110 22, 65 120 23, 70 125 24, 75 130 25, 80 140 26, 85 150 28, 90 160 30, 95 170 32, 100 180 34, "
          "105 190 36, 110 200 38, 120 215 40",
    "03": "4 16 5, 5 19 6, 10 35 11, 12 37 12, 15 42 13, 17 47 14, 20 52 15, 22 56 16, 25 62 17, 28 68 18, 30 72 19, "
          "32 75 20, 35 80 21, 40 90 23, 45 100 25, 50 110 27, 55 120 29, 60 130 31, 65 140 33, 70 150 35, 75 160 37, "
          "80 170 39, 85 180 41, 90 190 43, 95 200 45, 100 215 47, 105 225 49, 110 240 50, 120 260 55",
    "04": "17 62 17, 20 72 19, 25 80 21, 30 90 23, 35 100 25, 40 110 27, 45 120 29, 50 130 31, 55 140 33, 60 150 35, "
          "65 160 37, 70 180 42, 75 190 45, 80 200 48, 85 210 52, 90 225 54, 95 240 55, 100 250 58",
    "22": "10 30 14, 12 32 14, 15 35 14, 17 40 16, 20 47 18, 25 52 18, 30 62 20, 35 72 23, 40 80 23, 45 85 23, "
          "50 90 23, 55 100 25, 60 110 28, 65 120 31, 70 125 31, 75 130 31, 80 140 33, 85 150 36, 90 160 40, "
          "95 170 43, 100 180 46, 105 190 50, 110 200 53, 120 215 58",
    "23": "17 47 19, 20 52 21, 25 62 24, 30 72 27, 35 80 31, 40 90 33, 45 100 36, 50 110 40, 55 120 43, 60 130 46, "
          "65 140 48, 70 150 51, 75 160 55, 80 170 58, 85 180 60, 90 190 64, 95 200 67, 100 215 73, 110 240 80, "
          "120 260 86",
    "32": "12 32 15.9, 15 35 15.9, 17 40 17.5, 20 47 20.6, 25 52 20.6, 30 62 23.8, 35 72 27, 40 80 30.2, "
          "45 85 30.2, 50 90 30.2, 55 100 33.3, 60 110 36.5, 65 120 38.1, 70 125 39.7, 75 130 41.3, 80 140 44.4, "
          "85 150 49.2, 90 160 52.4, 95 170 55.6, 100 180 60.3, 110 200 69.8",
    "33": "15 42 19, 17 47 22.2, 20 52 22.2, 25 62 25.4, 30 72 30.2, 35 80 34.9, 40 90 36.5, 45 100 39.7, "
          "50 110 44.4, 55 120 49.2, 60 130 54, 65 140 58.7, 70 150 63.5, 75 160 68.3, 80 170 68.3, 85 180 73, "
          "90 190 73, 95 200 77.8, 100 215 82.6, 110 240 92.1",
}  # fmt: skip

DEEP_GROOVE = "deep groove ball bearing"
ANGULAR = "angular contact ball bearing"
DOUBLE_ROW_ANGULAR = "double-row angular contact ball bearing"
SELF_ALIGNING = "self-aligning ball bearing"
SPHERICAL = "spherical roller bearing"
CYLINDRICAL = "cylindrical roller bearing"
# The series of a designation: what kind of bearing it is and its dimension series (DIN 623-1, value from memory).
KINDS: dict[str, tuple[str, str]] = {
    "618": (DEEP_GROOVE, "18"), "619": (DEEP_GROOVE, "19"), "160": (DEEP_GROOVE, "00"), "60": (DEEP_GROOVE, "10"),
    "62": (DEEP_GROOVE, "02"), "63": (DEEP_GROOVE, "03"), "64": (DEEP_GROOVE, "04"),
    "718": (ANGULAR, "18"), "719": (ANGULAR, "19"), "70": (ANGULAR, "10"), "72": (ANGULAR, "02"), "73": (ANGULAR, "03"),
    "32": (DOUBLE_ROW_ANGULAR, "32"), "33": (DOUBLE_ROW_ANGULAR, "33"),
    "12": (SELF_ALIGNING, "02"), "13": (SELF_ALIGNING, "03"), "22": (SELF_ALIGNING, "22"), "23": (SELF_ALIGNING, "23"),
    "213": (SPHERICAL, "03"), "222": (SPHERICAL, "22"), "223": (SPHERICAL, "23"),
}  # fmt: skip
_ROLLER_SERIES = {"10": "10", "2": "02", "3": "03", "4": "04", "22": "22", "23": "23"}
# Which ring of a cylindrical roller bearing holds the rollers axially (DIN 5412-1, value from memory).
ROLLER_FORMS = {
    "NU": "two ribs on the outer ring, none on the inner ring",
    "NJ": "two ribs on the outer ring, one on the inner ring",
    "NUP": "two ribs on the outer ring, one and a loose rib on the inner ring",
    "N": "two ribs on the inner ring, none on the outer ring",
}


@dataclass(frozen=True)
class Boundary:
    """Outside diameter and width in mm, and the dimension series of ISO 15 they come from."""

    outside_mm: Decimal
    width_mm: Decimal
    series: str


def _table(rows: str) -> dict[Decimal, tuple[Decimal, Decimal]]:
    read = (row.split() for row in rows.split(","))
    return {Decimal(bore): (Decimal(outside), Decimal(width)) for bore, outside, width in read}


BOUNDARIES: dict[str, dict[Decimal, tuple[Decimal, Decimal]]] = {name: _table(rows) for name, rows in _ROWS.items()}


def kind_of(prefix: str, series: str) -> tuple[str, str] | None:
    """What kind of bearing a series is, and its dimension series; None where it is not known here."""
    if prefix:
        dimension = _ROLLER_SERIES.get(series)
        return (CYLINDRICAL, dimension) if dimension else None
    return KINDS.get(series)


def boundary(prefix: str, series: str, bore_mm: Decimal) -> Boundary | None:
    """Outside diameter and width; None where the table does not hold them."""
    kind = kind_of(prefix, series)
    found = BOUNDARIES[kind[1]].get(bore_mm) if kind else None
    return Boundary(*found, kind[1]) if found and kind else None
