"""What a job needs on its day. Rules of the shop: common practice, no source."""

import datetime
from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.readiness import Readiness, readiness

DAY = datetime.date(2026, 9, 14)


def on(days: int) -> datetime.date:
    return DAY + datetime.timedelta(days=days)


def judged(**changes: Any) -> Readiness:
    given: dict[str, Any] = {
        "kit_reserved": True,
        "allocations": [("L-1", Decimal(1), on(30))],
        "needed_quantity": 1,
        "job_date": DAY,
        "instruments": [("M-1", "outside micrometer", on(5))],
        "needed_instrument_types": ["outside micrometer"],
        "revision_state": "published",
    }
    return readiness(**{**given, **changes})


def codes(found: Readiness) -> list[str]:
    return [one.code for one in found.reasons]


def test_a_job_with_everything_at_hand_is_ready() -> None:
    assert judged().ready
    assert judged().reasons == ()
    assert [one.what for one in judged().requirements] == ["kit", "kit-in-date", "instrument", "procedure"]
    assert all(one.met for one in judged().requirements)


def test_without_a_reserved_kit_it_is_not() -> None:
    found = judged(kit_reserved=False, allocations=[])
    assert (found.ready, codes(found)) == (False, ["kit-not-reserved"])


def test_a_lot_may_be_fitted_on_its_last_day_but_not_after() -> None:
    assert judged(allocations=[("L-1", Decimal(1), DAY)]).ready
    found = judged(allocations=[("L-1", Decimal(1), on(-1))])
    assert codes(found) == ["kit-out-of-date"]
    assert "L-1" in found.reasons[0].sentence
    assert "2026-09-13" in found.reasons[0].sentence


def test_a_lot_in_which_nothing_ages_is_always_in_date() -> None:
    assert judged(allocations=[("L-1", Decimal(1), None)]).ready


def test_too_little_is_not_enough() -> None:
    assert codes(judged(needed_quantity=2)) == ["kit-short"]


def test_an_instrument_may_be_used_on_the_day_its_calibration_falls_due() -> None:
    assert judged(instruments=[("M-1", "outside micrometer", DAY)]).ready
    found = judged(instruments=[("M-1", "outside micrometer", on(-1))])
    assert codes(found) == ["instrument-out-of-calibration"]
    assert "M-1" in found.reasons[0].sentence


def test_one_instrument_in_calibration_is_enough() -> None:
    instruments = [("M-1", "outside micrometer", on(-1)), ("M-2", "outside micrometer", on(1))]
    assert judged(instruments=instruments).ready


def test_a_site_without_the_instrument_says_so() -> None:
    assert codes(judged(instruments=[("D-1", "dial indicator", on(5))])) == ["instrument-missing"]


def test_a_withdrawn_procedure_holds_the_job() -> None:
    found = judged(revision_state="withdrawn")
    assert codes(found) == ["procedure-not-published"]
    assert "Publish it" not in found.reasons[0].remedy


def test_all_reasons_are_told_at_once_each_with_what_would_help() -> None:
    found = judged(kit_reserved=False, instruments=[], revision_state="draft")
    assert codes(found) == ["kit-not-reserved", "instrument-missing", "procedure-not-published"]
    assert all(one.remedy for one in found.reasons)


@given(st.permutations([("M-1", "a", on(-3)), ("M-2", "a", on(-1)), ("M-3", "b", on(-2))]))
def test_the_reasons_do_not_depend_on_the_order_of_the_instruments(instruments: list[Any]) -> None:
    expected = judged(instruments=sorted(instruments), needed_instrument_types=["b", "a"])
    assert judged(instruments=instruments, needed_instrument_types=["a", "b", "a"]) == expected
