"""What is on order and past its day: counted on from today by the usual lateness, or left out."""

import datetime
from decimal import Decimal

import pytest

from kits.calculations.expected_receipts import OpenLine, expected_receipts, left_out_words, threshold

TODAY = datetime.date(2027, 3, 1)


def line(due_in, *, order="O-1", supplier="harrow"):
    return OpenLine(order, supplier, TODAY + datetime.timedelta(days=due_in), Decimal(2))


def counted(due_in, lateness=None, **more):
    (found,) = expected_receipts([line(due_in)], {"harrow": 5} if lateness is None else lateness, TODAY, **more)
    return found.counted_on


def test_what_is_not_due_yet_comes_on_its_day():
    assert counted(10) == datetime.date(2027, 3, 11)
    assert counted(0) == TODAY


def test_what_is_past_due_is_expected_from_today_by_the_usual_lateness():
    assert counted(-1) == datetime.date(2027, 3, 6)
    assert counted(-30) == datetime.date(2027, 3, 6)


def test_past_the_limit_it_is_left_out():
    assert counted(-31) is None
    assert counted(-8, limit_days=7) is None


def test_a_supplier_that_is_usually_early_is_expected_tomorrow():
    assert counted(-3, {"harrow": -4}) == datetime.date(2027, 3, 2)


def test_where_nothing_tells_how_late_the_supplier_is_it_is_left_out():
    assert counted(-1, {}) is None
    assert counted(3, {}) == datetime.date(2027, 3, 4)


def test_what_is_left_out_is_said():
    found = expected_receipts([line(-45, order="O-7"), line(-1), line(9)], {"harrow": 5}, TODAY)
    assert left_out_words(found) == "Not counted on any more: 2 on order O-7 (45 days past due)."
    assert left_out_words(found[1:]) == ""


@pytest.mark.parametrize(
    ("late", "mark"), [(0, 0), (1, 1), (6, 1), (7, 7), (13, 7), (14, 14), (30, 14), (31, 31), (400, 31)]
)
def test_others_are_told_at_a_few_marks(late, mark):
    assert threshold(late) == mark


def test_a_shorter_limit_is_told_instead_of_the_marks_beyond_it():
    assert threshold(9, limit_days=7) == 8
    assert threshold(20, limit_days=7) == 8
