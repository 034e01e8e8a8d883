"""Radial internal clearance of bearings with cylindrical bore after ISO 5753-1:2009 (value from memory)."""

from decimal import Decimal

from assets.calculations.bearing_dimensions import CYLINDRICAL, DEEP_GROOVE

CLASSES = ("C2", "CN", "C3", "C4", "C5")
GROUPS = {"C2": "group 2", "CN": "group N, normal", "C3": "group 3", "C4": "group 4", "C5": "group 5"}
# Bore up to and including, mm: least and greatest clearance in µm for C2, CN, C3, C4, C5.
_DEEP_GROOVE = """
    10   0-7   2-13   8-23   14-29   20-37
    18   0-9   3-18   11-25  18-33   25-45
    24   0-10  5-20   13-28  20-36   28-48
    30   1-11  5-20   13-28  23-41   30-53
    40   1-11  6-20   15-33  28-46   40-64
    50   1-11  6-23   18-36  30-51   45-73
    65   1-15  8-28   23-43  38-61   55-90
    80   1-15  10-30  25-51  46-71   65-105
    100  1-18  12-36  30-58  53-84   75-120
    120  2-20  15-41  36-66  61-97   90-140
"""
_CYLINDRICAL = """
    24   0-25   20-45  35-60   50-75    65-90
    30   0-25   20-45  35-60   50-75    70-95
    40   5-30   25-50  45-70   60-85    80-105
    50   5-35   30-60  50-80   70-100   95-125
    65   10-40  40-70  60-90   80-110   110-140
    80   10-45  40-75  65-100  90-125   130-165
    100  15-50  50-85  75-110  105-140  155-190
    120  15-55  50-90  85-125  125-165  180-220
"""
# Bores below these lie in bands that are not written down here.
_FROM = {DEEP_GROOVE: Decimal(6), CYLINDRICAL: Decimal(10)}

Bands = list[tuple[Decimal, dict[str, tuple[int, int]]]]


def _bands(text: str) -> Bands:
    found: Bands = []
    for row in text.split("\n"):
        if row.strip():
            upto, *ranges = row.split()
            limits = ((int(low), int(high)) for low, high in (one.split("-") for one in ranges))
            found.append((Decimal(upto), dict(zip(CLASSES, limits, strict=True))))
    return found


_TABLES = {DEEP_GROOVE: _bands(_DEEP_GROOVE), CYLINDRICAL: _bands(_CYLINDRICAL)}


def clearance_um(kind: str, bore_mm: Decimal, group: str) -> tuple[int, int] | None:
    """Least and greatest radial internal clearance in µm before mounting; None where the table does not hold it.

    Bands are over the one bore, up to and including the next.
    """
    if kind not in _TABLES or bore_mm < _FROM[kind]:
        return None
    return next((limits.get(group) for upto, limits in _TABLES[kind] if bore_mm <= upto), None)
