"""Verdicts by ISO 14253-1 and JCGM 106."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from jobs.calculations.verdict import (
    DECISION_RULES,
    UnknownDecisionRule,
    Verdict,
    conformance_probability,
    guard_band,
    judge,
)

# A shaft 50 k5 after ISO 286-2:2010.
LOWER, UPPER = Decimal("50.002"), Decimal("50.013")


def judged(value: str, *, uncertainty: str = "0.002", rule: str = "guard-band", **other: Any) -> Verdict:
    given: dict[str, Any] = {"lower": LOWER, "upper": UPPER, "instrument_overdue": False, **other}
    return judge(value=Decimal(value), expanded_uncertainty=Decimal(uncertainty), decision_rule=rule, **given)


@pytest.mark.parametrize(("value", "result"), [("50.008", "accept"), ("50.0125", "not-proved"), ("50.016", "reject")])
def test_a_shaft_is_accepted_only_where_conformance_is_proved(value: str, result: str) -> None:
    # ISO 14253-1, rules for proving conformity and nonconformity with U at k = 2.
    assert judged(value).result == result


@pytest.mark.parametrize(
    ("value", "result"),
    [
        ("50.004", "accept"),
        ("50.0039", "not-proved"),
        ("50.011", "accept"),
        ("50.0111", "not-proved"),
        ("50.000", "not-proved"),
        ("49.9999", "reject"),
        ("50.015", "not-proved"),
        ("50.0151", "reject"),
    ],
)
def test_the_ends_of_the_zones_lie_one_uncertainty_inside_and_outside_the_limits(value: str, result: str) -> None:
    # ISO 14253-1: acceptance from LSL + U to USL - U, rejection beyond LSL - U and USL + U.
    assert judged(value).result == result


@pytest.mark.parametrize(
    ("value", "result"),
    [("50.00365", "accept"), ("50.00364", "not-proved"), ("50.01135", "accept"), ("50.01136", "not-proved")],
)
def test_the_narrower_guard_band_accepts_with_95_per_cent_at_one_limit(value: str, result: str) -> None:
    # ISO 14253-1:2017, 1.65 standard uncertainties (factor value from memory).
    assert judged(value, rule="guard-band-1.65u").result == result


def test_1_65_standard_uncertainties_leave_a_chance_of_95_per_cent() -> None:
    # Quantile of the normal distribution, scipy.stats.norm.
    factor = guard_band(Decimal(2), "guard-band-1.65u")
    assert float(factor) == pytest.approx(norm.ppf(0.95), abs=0.006)


@pytest.mark.parametrize(
    ("value", "uncertainty", "result"),
    [
        # 11 um apart, u = 2.75 um: 1.67 u inside one limit and 2.33 u inside the other, 94.3 %; in the middle 95.4 %.
        # With u = 2.2 um they are five u apart: 95.01 % at the end of the guard band.
        ("50.0084", "0.0055", "not-proved"),
        ("50.0066", "0.0055", "not-proved"),
        ("50.0075", "0.0055", "accept"),
        ("50.00937", "0.0044", "accept"),
        ("50.00938", "0.0044", "not-proved"),
    ],
)
def test_between_two_close_limits_95_per_cent_are_asked_for_as_well(value: str, uncertainty: str, result: str) -> None:
    # ISO 14253-1:2017, a conformance probability of 95 % (value from memory); the chance after scipy.stats.norm.
    found = judged(value, uncertainty=uncertainty, rule="guard-band-1.65u")
    u = float(uncertainty) / 2
    chance = norm.cdf((float(UPPER) - float(value)) / u) - norm.cdf((float(LOWER) - float(value)) / u)
    assert found.result == result
    assert (found.result == "accept") <= (chance >= 0.95)


def test_what_two_close_limits_leave_open_is_told_with_its_chance() -> None:
    # scipy.stats.norm: cdf(4.6/2.75) - cdf(-6.4/2.75) = 0.9428.
    found = judged("50.0084", uncertainty="0.0055", rule="guard-band-1.65u")
    assert [one.code for one in found.reasons] == ["limits-close-together", "room-left"]
    assert f"is {norm.cdf(4.6 / 2.75) - norm.cdf(-6.4 / 2.75):.1%}, less than 95%" in found.reasons[0].sentence


def test_simple_acceptance_looks_at_the_value_alone() -> None:
    # JCGM 106:2012, 8.2.
    assert judged("50.013", rule="simple").result == "accept"
    assert judged("50.0131", rule="simple").result == "reject"


def test_a_breakdown_voltage_below_its_upper_limit() -> None:
    # JCGM 106:2012, 7.3.3, first example: y = -5.47 V, u = 0.05 V, at most -5.40 V gives 0.92 (value from memory).
    found = conformance_probability(Decimal("-5.47"), Decimal("0.05"), None, Decimal("-5.40"))
    assert found == pytest.approx(0.92, abs=0.005)


def test_a_burst_pressure_above_its_lower_limit() -> None:
    # JCGM 106:2012, 7.3.3, second example: 509.7 kPa, u = 8.6 kPa, at least 490 kPa gives 0.99 (value from memory).
    found = conformance_probability(Decimal("509.7"), Decimal("8.6"), Decimal(490), None)
    assert found == pytest.approx(0.99, abs=0.005)


def test_a_value_without_uncertainty_conforms_or_does_not() -> None:
    assert conformance_probability(Decimal(1), Decimal(0), Decimal(0), Decimal(1)) == 1
    assert conformance_probability(Decimal(2), Decimal(0), Decimal(0), Decimal(1)) == 0


def test_room_left_counts_from_the_guarded_limit() -> None:
    assert judged("50.0100").room_left == Decimal("0.0010")
    assert judged("50.0160").room_left == Decimal("-0.0050")


def test_room_is_told_to_the_limit_and_to_the_guarded_limit() -> None:
    found = judged("50.0100", unit="mm")
    assert (found.room_to_limit, found.guard_band) == (Decimal("0.0030"), Decimal("0.002"))
    assert found.reasons[-1].sentence == (
        "0.003 mm is left to the upper limit, 0.001 mm of it before the guard band of 0.002 mm begins."
    )


def test_a_value_inside_the_guard_band_is_told_to_have_passed_the_guarded_limit() -> None:
    assert judged("50.0030", unit="mm").reasons[-1].sentence == (
        "0.001 mm is left to the lower limit; the guarded limit, 0.002 mm inside, is passed by 0.001 mm."
    )


def test_a_value_beyond_its_limit_is_told_by_how_much() -> None:
    words = judged("50.0160", unit="mm").reasons[-1].sentence
    assert words.startswith("It lies 0.003 mm beyond the upper limit; the guarded limit")
    assert words.endswith("is passed by 0.005 mm.")


def test_without_a_guard_band_the_room_to_the_limit_is_all_there_is() -> None:
    assert (
        judged("50.0130", rule="simple").reasons[-1].sentence == "0 is left to the upper limit; no guard band is kept."
    )


def test_an_instrument_overdue_for_calibration_proves_no_conformance() -> None:
    found = judged("50.008", instrument_overdue=True)
    assert found.result == "not-proved"
    assert "calibration-overdue" in [one.code for one in found.reasons]


def test_what_an_overdue_instrument_shows_far_outside_stays_rejected() -> None:
    found = judged("50.100", instrument_overdue=True)
    assert (found.result, [one.code for one in found.reasons]) == (
        "reject",
        ["outside-limits", "calibration-overdue", "room-left"],
    )


def test_limits_too_narrow_for_the_instrument_are_said_to_be() -> None:
    found = judged("50.0075", uncertainty="0.006")
    assert [one.code for one in found.reasons] == ["within-guard-band", "uncertainty-too-large", "room-left"]


def test_without_limits_a_value_is_recorded_as_it_is() -> None:
    found = judged("18.5", lower=None, upper=None)
    assert (found.result, found.room_left, found.reasons[0].code) == ("accept", None, "no-limits")
    assert judged("18.5", lower=None, upper=None, instrument_overdue=True).result == "not-proved"


def test_a_run_out_has_an_upper_limit_only() -> None:
    found = judged("0.03", uncertainty="0.004", lower=None, upper=Decimal("0.05"))
    assert found.result == "accept"
    assert "at most 0.05" in found.reasons[0].sentence


def test_what_makes_no_sense_is_refused() -> None:
    with pytest.raises(UnknownDecisionRule):
        judged("50", rule="generous")
    with pytest.raises(ValueError, match="below zero"):
        judged("50", uncertainty="-0.001")
    with pytest.raises(ValueError, match="above the upper"):
        judged("50", lower=UPPER, upper=LOWER)


values = st.decimals(min_value=-10, max_value=10, places=4)
widths = st.decimals(min_value=0, max_value=3, places=4)
limit = st.none() | st.decimals(min_value=-5, max_value=5, places=3)
rules = st.sampled_from(DECISION_RULES)


@given(value=values, uncertainty=widths, lower=limit, upper=limit, rule=rules, overdue=st.booleans())
def test_nothing_outside_its_limits_is_ever_accepted(
    value: Decimal, uncertainty: Decimal, lower: Decimal | None, upper: Decimal | None, rule: str, overdue: bool
) -> None:
    assume(lower is None or upper is None or lower <= upper)
    found = judge(
        value=value,
        expanded_uncertainty=uncertainty,
        lower=lower,
        upper=upper,
        decision_rule=rule,
        instrument_overdue=overdue,
    )
    if found.result == "accept":
        assert not overdue
        assert lower is None or value >= lower
        assert upper is None or value <= upper
    assert found.reasons


@given(value=values, uncertainty=widths, more=widths, rule=rules)
def test_more_uncertainty_never_accepts_nor_rejects_more(
    value: Decimal, uncertainty: Decimal, more: Decimal, rule: str
) -> None:
    limits: dict[str, Any] = {"lower": Decimal(-1), "upper": Decimal(1)}
    narrow = judged(str(value), uncertainty=str(uncertainty), rule=rule, **limits)
    wide = judged(str(value), uncertainty=str(uncertainty + more), rule=rule, **limits)
    assert wide.result in {narrow.result, "not-proved"}


@given(value=values, uncertainty=widths)
def test_the_wider_guard_band_accepts_no_more_than_the_narrower(value: Decimal, uncertainty: Decimal) -> None:
    order = [
        judged(str(value), uncertainty=str(uncertainty), rule=rule, lower=Decimal(-1), upper=Decimal(1)).result
        for rule in ("guard-band", "guard-band-1.65u", "simple")
    ]
    accepted = [one == "accept" for one in order]
    assert accepted == sorted(accepted)


@given(value=values, uncertainty=st.decimals(min_value="0.001", max_value=2, places=3), upper=values)
def test_what_is_accepted_between_two_limits_conforms_with_95_per_cent_whatever_their_distance(
    value: Decimal, uncertainty: Decimal, upper: Decimal
) -> None:
    # ISO 14253-1:2017 (value from memory); the chance after scipy.stats.norm.
    for rule in ("guard-band", "guard-band-1.65u"):
        found = judged(str(value), uncertainty=str(uncertainty), rule=rule, lower=upper - 1, upper=upper)
        u = float(uncertainty) / 2
        chance = norm.cdf(float(upper - value) / u) - norm.cdf(float(upper - 1 - value) / u)
        assert found.result != "accept" or chance >= 0.95 - 1e-12


@given(value=values, uncertainty=st.decimals(min_value="0.001", max_value=2, places=3), upper=values)
def test_what_is_accepted_by_a_guard_band_conforms_with_95_per_cent(
    value: Decimal, uncertainty: Decimal, upper: Decimal
) -> None:
    # JCGM 106:2012, 8.3 for one limit; the chance after scipy.stats.norm.
    found = judged(str(value), uncertainty=str(uncertainty), rule="guard-band-1.65u", lower=None, upper=upper)
    chance = norm.cdf(float((upper - value) / (uncertainty / 2)))
    assert (found.result == "accept") == (chance >= norm.cdf(1.65) - 1e-12)
    assert conformance_probability(value, uncertainty / 2, None, upper) == pytest.approx(chance, abs=1e-12)
