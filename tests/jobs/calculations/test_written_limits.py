"""What a worked out figure looks like where people read it, beside the figure that counts."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.limits import resolve
from jobs.calculations.printed_quantities import limits
from jobs.calculations.seal_installation import seal_check
from jobs.calculations.verdict import judge
from jobs.calculations.written_limits import legible, lower_limit, upper_limit

WORKED_OUT = st.decimals(min_value=-1000, max_value=1000, places=6)


@pytest.mark.parametrize(
    ("value", "unit", "written"),
    [
        # Four decimals or fewer are somebody's own and stand as they are.
        ("50.0125", "mm", "50.0125"),
        ("0.125", "um", "0.125"),
        ("2.500000", "mm/s", "2.5"),
        ("50.008098", "mm", "50.0081"),
        ("0.881343", "um", "0.88"),
        ("0.881343", "µm", "0.88"),
        # Two figures at least, as JCGM 100:2008, 7.2.6 keeps of an uncertainty.
        ("0.000345", "mm", "0.00034"),
        ("0.00987654", "um", "0.0099"),
    ],
)
def test_a_worked_out_figure_has_the_digits_that_an_instrument_tells(value, unit, written):
    assert legible(Decimal(value), unit) == written


@given(WORKED_OUT, st.sampled_from(["mm", "um", "N*m"]))
def test_a_limit_is_never_told_wider_than_it_is(value, unit):
    assert Decimal(lower_limit(value, unit)) >= value
    assert Decimal(upper_limit(value, unit)) <= value


def test_three_light_bands_are_told_as_0_88_micrometres_and_count_in_full():
    # NIST Atomic Spectra Database, He I 587.562 nm: three half wavelengths are 0.881343 um.
    found = resolve({"kind": "seal-seat", "check": "face-flatness"}, {})
    assert found.upper == Decimal("0.881343")
    assert found.words == "Flatness of a seal face, 3 helium light bands: at most 0.88 µm."
    assert seal_check("face-flatness").sentence() == found.words
    assert limits(None, found.upper, "um", "metric").main == "at most 0.88 µm"
    assert limits(None, found.upper, "um", "inch").main == "at most 34.6 µin"


def test_a_verdict_tells_bands_without_idle_digits():
    found = judge(
        value=Decimal("0.587562"), expanded_uncertainty=Decimal("0.169612"), lower=None, upper=Decimal("0.881343"),
        decision_rule="guard-band", instrument_overdue=False, unit="um",
    )  # fmt: skip
    assert found.result == "accept"
    within = "0.59 lies within its limits (at most 0.88) with the guard band of 0.17 to spare."
    assert found.reasons[0].sentence == within
    assert found.reasons[1].sentence == (
        "0.29 µm is left to the upper limit, 0.12 µm of it before the guard band of 0.17 µm begins."
    )
    assert found.room_to_limit == Decimal("0.293781")


@given(WORKED_OUT, WORKED_OUT, st.sampled_from(["mm", "um"]))
def test_what_lies_outside_is_never_told_as_a_number_inside(value, upper, unit):
    found = judge(
        value=value, expanded_uncertainty=Decimal(0), lower=None, upper=upper, decision_rule="simple",
        instrument_overdue=False, unit=unit,
    )  # fmt: skip
    told, _, rest = found.reasons[0].sentence.partition(" lies ")
    limit = rest.split("at most ")[1].split(")")[0]
    assert (Decimal(told) > Decimal(limit)) == (value > upper)
    assert (found.result == "reject") == (value > upper)
