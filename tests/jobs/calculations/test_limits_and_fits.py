"""Tolerance classes and bearing tolerances against published tables and formulas."""

import math
from decimal import Decimal

import isofits
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from jobs.calculations.limits_and_fits import (
    SizeOutsideTable,
    UnknownToleranceClass,
    bearing_bore,
    bearing_outside,
    deviations,
    fit,
    standard_tolerance,
)

# Both sides of every end of a band, within the reach of the outside table.
ENDS = (6, 10, 18, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180, 200, 225, 250, 280, 315, 355)
SIZES = [Decimal("3.001"), Decimal(400), *(Decimal(end) + step for end in ENDS for step in (0, Decimal("0.001")))]
SHAFTS = {
    "d": [6], "e": [6], "f": [5, 6, 7], "g": [5, 6, 7], "h": [4, 5, 6, 7, 8, 9, 10, 11], "j": [5, 6, 7],
    "js": [5, 6, 7], "k": [5, 6, 7], "m": [5, 6, 7], "n": [5, 6, 7], "p": [5, 6], "r": [6],
}  # fmt: skip
HOLES = {
    "E": [6, 7, 11], "F": [6, 7, 8], "G": [6, 7, 8], "H": [6, 7, 8, 9, 10, 11], "J": [6, 7, 8], "JS": [6, 7, 8],
    "K": [6, 7, 8], "M": [6, 7, 8], "N": [6, 7, 8], "P": [6, 7, 8], "R": [6, 7],
}  # fmt: skip
CLASSES = [
    (body, f"{letter}{grade}")
    for body, letters in (("shaft", SHAFTS), ("hole", HOLES))
    for letter, grades in letters.items()
    for grade in grades
]


def outside_table(body: str, tolerance_class: str, size: Decimal) -> tuple[Decimal, Decimal]:
    """(upper, lower) after ISO 286-2:2010, in micrometres, as the PyPI library isofits 1.0 carries them."""
    upper, lower = isofits.isotol(body, float(size), tolerance_class, "both")
    return Decimal(str(upper)), Decimal(str(lower))


def width_of_grade(size: Decimal, grade: str) -> Decimal:
    upper, lower = outside_table("shaft", f"h{grade}", size)
    return upper - lower


def contradicts_itself(body: str, tolerance_class: str, size: Decimal) -> bool:
    """A cell of the outside table whose width is not the width that the same table gives its grade: a misprint."""
    upper, lower = outside_table(body, tolerance_class, size)
    return upper - lower != width_of_grade(size, tolerance_class.lstrip("defghjkmnprsDEFGHJKMNPRS"))


@pytest.mark.parametrize(("body", "tolerance_class"), CLASSES)
def test_a_class_has_the_limit_deviations_of_iso_286_2(body: str, tolerance_class: str) -> None:
    # ISO 286-2:2010 by way of the PyPI library isofits 1.0, over 3 up to 400 mm.
    for size in SIZES:
        ours = deviations(size, tolerance_class)
        if not contradicts_itself(body, tolerance_class, size):
            assert (ours.upper_um, ours.lower_um) == outside_table(body, tolerance_class, size), size


def test_only_three_places_of_the_outside_table_are_set_aside() -> None:
    found = {(name, size) for body, name in CLASSES for size in SIZES if contradicts_itself(body, name, size)}
    assert {(name, min(size for one, size in found if one == name)) for name, _ in found} == {
        ("f6", Decimal("120.001")),
        ("E7", Decimal("315.001")),
        ("K6", Decimal("6.001")),
    }


BANDS = [(3, 6), (6, 10), (10, 18), (18, 30), (30, 50), (50, 80), (80, 120), (120, 180), (180, 250), (250, 315),
         (315, 400), (400, 500)]  # fmt: skip


@pytest.mark.parametrize(("over", "up_to"), BANDS)
def test_standard_tolerances_are_the_rounded_multiples_of_the_tolerance_unit(over: int, up_to: int) -> None:
    # ISO 286-1:1988 annex A (value from memory): i = 0.45 cbrt(D) + 0.001 D; IT5 to IT11 are 7, 10, 16, 25, 40, 64,
    # 100 i, rounded. This reaches over 400 mm, where the outside table ends.
    middle = math.sqrt(over * up_to)
    unit = 0.45 * middle ** (1 / 3) + 0.001 * middle
    for grade, multiple in {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100}.items():
        formula = multiple * unit
        assert float(standard_tolerance(Decimal(up_to), grade)) == pytest.approx(formula, rel=0.03, abs=0.7)


@pytest.mark.parametrize(("over", "up_to"), BANDS)
def test_fundamental_deviations_follow_their_formulas(over: int, up_to: int) -> None:
    # ISO 286-1:1988 annex A (value from memory), rounded in the tables.
    middle = math.sqrt(over * up_to)
    upper = {"d": 16 * middle**0.44, "e": 11 * middle**0.41, "f": 5.5 * middle**0.41, "g": 2.5 * middle**0.34}
    for letter, formula in upper.items():
        assert -float(deviations(Decimal(up_to), f"{letter}7").upper_um) == pytest.approx(formula, rel=0.025, abs=1.2)
    lower = {"k": 0.6 * middle ** (1 / 3), "n": 5 * middle**0.34}
    for letter, formula in lower.items():
        assert float(deviations(Decimal(up_to), f"{letter}6").lower_um) == pytest.approx(formula, rel=0.025, abs=1.2)


@pytest.mark.parametrize(
    ("bore", "shaft_class", "smallest", "largest"),
    [
        (50, "k5", 2, 25),
        (50, "k6", 2, 30),
        (50, "m6", 9, 37),
        (50, "j6", -5, 23),
        (50, "h6", -16, 12),
        (120, "n6", 23, 65),
    ],
)
def test_a_bearing_sits_on_its_shaft_with_the_interference_of_the_standards(
    bore: int, shaft_class: str, smallest: int, largest: int
) -> None:
    # ISO 286-2:2010 shaft deviations with the bore deviations of ISO 492, normal class.
    found = fit(bearing_bore(Decimal(bore)), deviations(Decimal(bore), shaft_class))
    assert (found.smallest_interference_um, found.largest_interference_um) == (smallest, largest)


@pytest.mark.parametrize(("housing_class", "loosest", "tightest"), [("H7", -50, 0), ("K7", -25, 25)])
def test_a_bearing_of_90_mm_sits_in_its_housing(housing_class: str, loosest: int, tightest: int) -> None:
    # ISO 286-2:2010 housing deviations with the outside diameter deviations of ISO 492, normal class (0/-15 um).
    found = fit(deviations(Decimal(90), housing_class), bearing_outside(Decimal(90)))
    assert (found.smallest_interference_um, found.largest_interference_um) == (loosest, tightest)


@pytest.mark.parametrize(("shaft", "tightest", "loosest"), [("g6", -9, -50), ("k6", 18, -23), ("p6", 42, 1)])
def test_usual_fits_of_an_impeller_or_coupling(shaft: str, tightest: int, loosest: int) -> None:
    # ISO 286-2:2010, 50 H7 with g6, k6, p6; the PyPI library isofits 1.0 gives (least, greatest) clearance.
    found = fit(deviations(Decimal(50), "H7"), deviations(Decimal(50), shaft))
    assert (found.largest_interference_um, found.smallest_interference_um) == (tightest, loosest)
    clearance = isofits.isofit(50, "H7", shaft)
    assert (-clearance[0], -clearance[1]) == (tightest, loosest)


def test_a_size_on_the_end_of_a_band_belongs_to_the_band_it_ends() -> None:
    # ISO 286-1:2010 table 1: "above ... up to and including".
    assert deviations(Decimal("50.000"), "k6").upper_um == 18
    assert deviations(Decimal("50.001"), "k6").upper_um == 21


def test_sizes_of_a_class_are_exact() -> None:
    assert deviations(Decimal(50), "k5").sizes(Decimal(50)) == (Decimal("50.002"), Decimal("50.013"))


@pytest.mark.parametrize("size", ["0", "3", "500.001", "-50", "NaN", "Infinity"])
def test_a_size_outside_the_tables_is_refused(size: str) -> None:
    with pytest.raises(SizeOutsideTable):
        deviations(Decimal(size), "h6")


@pytest.mark.parametrize("size", ["0", "0.5", "1000.1", "NaN"])
def test_a_bore_outside_the_tables_is_refused(size: str) -> None:
    with pytest.raises(SizeOutsideTable):
        bearing_bore(Decimal(size))


@pytest.mark.parametrize("name", ["", "k", "6", "q6", "k9", "J5", "P9", "h3", "h12", "k-6", "kk6", "K6k"])
def test_a_class_that_is_not_known_is_refused(name: str) -> None:
    with pytest.raises(UnknownToleranceClass):
        deviations(Decimal(50), name)


@given(
    size=st.decimals(min_value="3.001", max_value=500, places=3),
    letter=st.sampled_from("defghkmnp"),
    grade=st.integers(5, 7),
)
def test_a_shaft_and_the_hole_of_the_same_letter_mirror_each_other(size: Decimal, letter: str, grade: int) -> None:
    # ISO 286-1:2010 4.3.2: shaft basis and hole basis give the same fit, the shaft one grade finer for k and tighter.
    finer = grade - 1 if letter in "kmnp" else grade
    assume(not (letter == "m" and grade == 6 and 250 < size <= 315))  # The table's own exception.
    on_the_shaft = fit(deviations(size, f"H{grade}"), deviations(size, f"{letter}{finer}"))
    on_the_hole = fit(deviations(size, f"{letter.upper()}{grade}"), deviations(size, f"h{finer}"))
    assert on_the_shaft == on_the_hole
