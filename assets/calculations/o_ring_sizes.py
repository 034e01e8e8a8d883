"""O-rings of the inch series: size codes of ISO 3601-1:2012, which are the dash numbers of AS568.

Inside diameters are nominal in thousandths of an inch, as the sizes were first given (value from memory); millimetres
are 25.4 times that, rounded half up to 0.01 mm as ISO 3601-1 prints them. Within a series all rings have one section.
"""

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

# First code of an unbroken run, then inside diameters in 0.001 in, code by code.
_INSIDE = {
    "004": "70 101 114 145 176 208 239 301 364 426 489 551 614 676 739 801 864 926 989 1051 1114 1176 1239 1301 1364 "
           "1489 1614 1739 1864 1989 2114 2239 2364 2489 2614 2739 2864 2989 3239 3489 3739 3989 4239 4489 4739 4989 "
           "5239",
    "102": "49 81 112 143 174 206 237 299 362 424 487 549 612 674 737 799 862 924 987 1049 1112 1174 1237 1299 1362 "
           "1424 1487 1549 1612 1674 1737 1799 1862 1925 1987 2050 2112 2175 2237 2300 2362 2425 2487 2550 2612 2675 "
           "2737 2800 2862 2987 3237 3487 3737 3987 4237 4487 4737 4987 5237 5487 5737 5987 6237 6487 6737 6987 7237 "
           "7487 7737 7987 8237 8487 8737 8987 9237 9487 9737",
    "201": "171 234 296 359 421 484 546 609 671 734 796 859 921 984 1046 1109 1171 1234 1296 1359 1421 1484 1609 1734 "
           "1859 1984 2109 2234 2359 2484 2609 2734 2859 2984 3109 3234 3359 3484 3609 3734 3859 3984 4109 4234 4359 "
           "4484 4609 4734 4859 4984 5109 5234 5359 5484 5609 5734 5859 5984 6234 6484 6734 6984 7234 7484 7734 7984 "
           "8234 8484 8734 8984 9234 9484 9734 9984 10484 10984 11484 11984 12984 13984 14984 15955 16955 17955",
    "309": "412 475 537 600 662 725 787 850 912 975 1037 1100 1162 1225 1287 1350 1475 1600 1725 1850 1975 2100 2225 "
           "2350 2475 2600 2725 2850 2975 3100 3225 3350 3475 3600 3725 3850 3975 4100 4225 4350 4475 4600 4725 4850 "
           "4975 5100 5225 5350 5475 5600 5725 5850 5975 6225 6475 6725 6975 7225 7475 7725 7975 8225 8475 8725 8975 "
           "9225 9475 9725 9975 10475 10975 11475 11975 12975 13975 14975 15955 16955 17955 18955 19955 20955 21955 "
           "22940 23940 24940 25940",
    "425": "4475 4600 4725 4850 4975 5100 5225 5350 5475 5600 5725 5850 5975 6225 6475 6725 6975 7225 7475 7725 7975 "
           "8475 8975 9475 9975 10475 10975 11475 11975 12475 12975 13475 13975 14475 14975 15475 15955 16455 16955 "
           "17455 17955 18455 18955 19455 19955 20955 21955 22940 23940 24940 25940",
}  # fmt: skip
# The three smallest have sections of their own.
_SMALLEST = {"001": (29, 40), "002": (42, 50), "003": (56, 60)}
# Section in 0.001 in and its tolerance in mm, by the first digit of the code (ISO 3601-1:2012).
SECTIONS = {
    "0": (70, Decimal("0.08")),
    "1": (103, Decimal("0.08")),
    "2": (139, Decimal("0.10")),
    "3": (210, Decimal("0.13")),
    "4": (275, Decimal("0.15")),
}
_HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class RingSize:
    """A size: its code, inside diameter and section in mm as printed, and both in inches as first given."""

    code: str
    inside_mm: Decimal
    section_mm: Decimal
    inside_in: Decimal
    section_in: Decimal


def exact_mm(inches: Decimal) -> Decimal:
    """Inches in millimetres, not rounded."""
    return inches * Decimal("25.4")


def _sizes() -> Iterator[RingSize]:
    for code, (inside, section) in _SMALLEST.items():
        yield _size(code, inside, section)
    for first, run in _INSIDE.items():
        for step, thousandths in enumerate(run.split()):
            yield _size(f"{int(first) + step:03d}", int(thousandths), SECTIONS[first[0]][0])


def _size(code: str, inside: int, section: int) -> RingSize:
    inches = Decimal(inside) / 1000, Decimal(section) / 1000
    inside_mm, section_mm = (exact_mm(one).quantize(_HUNDREDTH, ROUND_HALF_UP) for one in inches)
    return RingSize(code, inside_mm, section_mm, *inches)


BY_CODE: dict[str, RingSize] = {one.code: one for one in _sizes()}
BY_SIZE: dict[tuple[Decimal, Decimal], RingSize] = {(one.inside_mm, one.section_mm): one for one in BY_CODE.values()}
_SECTION_PRINTED = {exact_mm(one.section_in): one.section_mm for one in BY_CODE.values()}
_INSIDE_PRINTED = {(exact_mm(one.inside_in), one.section_mm): one.inside_mm for one in BY_CODE.values()}


def as_printed(inside_mm: Decimal, section_mm: Decimal) -> tuple[Decimal, Decimal]:
    """Sizes that are exactly a size code's inches, as ISO 3601-1 prints them in mm; all others unchanged."""
    section = _SECTION_PRINTED.get(section_mm, section_mm)
    return _INSIDE_PRINTED.get((inside_mm, section), inside_mm), section


def _in_order() -> Iterator[tuple[Decimal, list[Decimal], list[RingSize]]]:
    for section in sorted({one.section_mm for one in BY_CODE.values()}):
        rings = sorted((one for one in BY_CODE.values() if one.section_mm == section), key=lambda one: one.inside_mm)
        yield section, [one.inside_mm for one in rings], rings


_IN_ORDER = tuple(_in_order())


def nearest(inside_mm: Decimal, section_mm: Decimal) -> RingSize | None:
    """A size code within 0.5 mm of the inside diameter and 0.1 mm of the section, to warn of a mix-up."""
    near: list[RingSize] = []
    for section, insides, rings in _IN_ORDER:
        if abs(section - section_mm) <= Decimal("0.1"):
            at = bisect_left(insides, inside_mm)
            near += [one for one in rings[max(at - 1, 0) : at + 1] if abs(one.inside_mm - inside_mm) <= Decimal("0.5")]
    return min(near, key=lambda one: abs(one.inside_mm - inside_mm), default=None)
