"""What is said first when a label is scanned."""

import datetime
from decimal import Decimal

import pytest

from jobs.calculations.scan_warnings import (
    EXPIRING_DAYS,
    OnShelf,
    expiry_warnings,
    gravest_first,
    kit_warnings,
    pump_warnings,
    shelf_warnings,
)

TODAY = datetime.date(2026, 11, 25)


def in_days(days):
    return TODAY + datetime.timedelta(days=days)


@pytest.mark.parametrize(
    ("days", "code", "words"),
    [
        (-400, "lot-expired", "Do not fit: Lot 7 is out of date, the last day of use was 2025-10-21."),
        (-1, "lot-expired", "Do not fit: Lot 7 is out of date, the last day of use was 2026-11-24."),
        (0, "lot-expiring", "Lot 7: the last day of use is 2026-11-25, that is today."),
        (1, "lot-expiring", "Lot 7: the last day of use is 2026-11-26, 1 day left."),
        (EXPIRING_DAYS, "lot-expiring", "Lot 7: the last day of use is 2027-02-23, 90 days left."),
    ],
)
def test_a_lot_says_when_it_may_not_be_fitted_any_more(days, code, words):
    # The last day still counts: common practice, no source.
    (found,) = expiry_warnings("Lot 7", in_days(days), TODAY)
    assert (found.code, found.text) == (code, words)


@pytest.mark.parametrize("expires_on", [None, in_days(EXPIRING_DAYS + 1)])
def test_a_lot_that_lasts_says_nothing(expires_on):
    assert expiry_warnings("Lot 7", expires_on, TODAY) == []


def test_a_shelf_names_only_what_must_not_be_fitted():
    shelf = [
        OnShelf("A", Decimal("2.000"), False, in_days(3)),
        OnShelf("B", Decimal("2.000"), True, in_days(-3)),
        OnShelf("C", Decimal(1), False, in_days(-1)),
    ]
    found = [(one.code, one.text) for one in shelf_warnings(shelf, TODAY)]
    assert [code for code, _ in found] == ["lot-quarantined", "lot-expired", "lot-expired"]
    assert found[0][1] == "Do not fit: 2 of B is quarantined."


def test_the_gravest_signal_word_comes_first():
    # ISO 3864-2 and ANSI Z535: danger, warning, caution, then notice (value from memory).
    pump = pump_warnings(fluid="Brine", hazard="Corrosive.", lowest_c=Decimal("-5.00"), highest_c=Decimal("120.00"))
    found = gravest_first([*expiry_warnings("A", TODAY, TODAY), *kit_warnings("withdrawn"), *reversed(pump)])
    assert [one.signal_word for one in found] == ["danger", "warning", "warning", "caution", "notice"]
    assert found[3].text == "Runs at -5 to 120 °C."


@pytest.mark.parametrize(
    ("state", "codes"), [("released", []), ("draft", ["kit-draft"]), ("withdrawn", ["kit-withdrawn"])]
)
def test_a_kit_that_is_not_released_says_so(state, codes):
    assert [one.code for one in kit_warnings(state)] == codes
