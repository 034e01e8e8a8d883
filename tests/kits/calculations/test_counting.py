"""Classes, due days and the second person, by the rule and by another hand."""

import datetime
import uuid
from collections import Counter
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.calculations.counting import (
    Countable,
    YearlyUse,
    counting_classes,
    counts_a_day,
    needs_second_person,
    plan_counts,
    working_day,
    worth,
)

TIMES = {"A": 12, "B": 4, "C": 1}
MONDAY = datetime.date(2026, 11, 30)


def ids(count):
    return [uuid.UUID(int=number) for number in range(1, count + 1)]


def letters(uses):
    found = counting_classes(uses)
    return "".join(found[one.item].letter for one in uses)


def used(values, **more):
    return [
        YearlyUse(item, Decimal(str(value)), Decimal(1), "EUR", **more)
        for item, value in zip(ids(len(values)), values, strict=True)
    ]


def test_ten_items_at_eighty_and_ninety_five_percent():
    # Worked by hand from the rule, common practice, no source: the shares before the items are
    # 0 40 65 77 85 91 95 97.5 99 100 %.
    assert letters(used([40, 25, 12, 8, 6, 4, 2.5, 1.5, 1, 0])) == "AAAABBCCCC"


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=40))
def test_classes_agree_with_a_cumulative_sum_by_numpy(values):
    """numpy's cumsum and searchsorted as the other hand, in whole numbers, so without rounding."""
    order = np.argsort(-np.array(values), kind="stable")
    ordered = np.array(values)[order]
    before = np.concatenate(([0], np.cumsum(ordered)[:-1]))
    bounds = np.array([80, 95]) * ordered.sum()
    wanted = np.array(["A", "B", "C"])[np.searchsorted(bounds, before * 100, side="right")]
    wanted[ordered == 0] = "C"
    assert list(letters(used(values))) == list(wanted[np.argsort(order)])


def test_one_item_that_holds_nearly_everything_is_a():
    assert letters(used([1000, 1])) == "AC"


def test_what_is_vital_is_never_below_b_and_says_so():
    # Common practice, no source.
    found = counting_classes(used([0], criticality="vital"))[ids(1)[0]]
    assert (found.letter, found.by_value) == ("B", "C")
    assert "vital" in found.why
    assert letters(used([5, 0], criticality="vital")) == "AB"


def test_currencies_are_ranked_apart_and_what_has_no_cost_is_b():
    one, two, three, four = ids(4)
    uses = [
        YearlyUse(one, Decimal(1000), Decimal(9), "EUR"),
        YearlyUse(two, Decimal(1), Decimal(1), "NOK"),
        YearlyUse(three, Decimal(3), None),
        YearlyUse(four, Decimal(0), None),
    ]
    assert letters(uses) == "AABC"


def test_three_thousand_counts_a_year_are_twelve_a_working_day():
    # 100 items 12 times, 300 four times and 600 once a year on 250 working days; common practice, no source.
    assert counts_a_day("A" * 100 + "B" * 300 + "C" * 600, TIMES) == 12


def test_a_store_never_counted_is_spread_evenly_over_working_days():
    items = [Countable(item, "B", None) for item in ids(600)]
    planned = plan_counts(items, TIMES, on=MONDAY, until=MONDAY + datetime.timedelta(days=365))
    a_day = Counter(one.planned_on for one in planned)
    assert len(planned) == 600
    assert set(a_day.values()) == {10}
    assert all(day.weekday() < 5 for day in a_day)
    assert (max(a_day) - MONDAY).days == 11 * 7 + 4


def test_a_class_is_due_after_its_share_of_the_year():
    last = MONDAY - datetime.timedelta(days=60)
    a, b, c = ids(3)
    items = [Countable(c, "C", last), Countable(b, "B", last), Countable(a, "A", last)]
    planned = plan_counts(items, TIMES, on=MONDAY, until=MONDAY + datetime.timedelta(days=40))
    assert [(one.item, one.due_on) for one in planned] == [
        (a, last + datetime.timedelta(days=30)),
        (b, last + datetime.timedelta(days=91)),
    ]
    assert "class A is counted 12 times a year; last on" in planned[0].reasons[0]


def test_an_event_comes_at_once_whatever_the_class_and_the_room():
    today = MONDAY - datetime.timedelta(days=2)
    many = [Countable(item, "C", today, ("the balance hit zero",)) for item in ids(7)]
    calm = Countable(uuid.UUID(int=99), "C", None)
    planned = plan_counts([calm, *many], TIMES, on=today, until=today + datetime.timedelta(days=9))
    assert {one.planned_on for one in planned[:7]} == {MONDAY}
    assert all(one.reasons == ("the balance hit zero",) for one in planned[:7])
    assert planned[7].planned_on == MONDAY + datetime.timedelta(days=1)


@given(st.lists(st.tuples(st.sampled_from("ABC"), st.none() | st.integers(0, 500), st.booleans()), max_size=30))
def test_the_plan_does_not_hang_on_the_order_of_the_rows(rows):
    items = [
        Countable(item, letter, days if days is None else MONDAY - datetime.timedelta(days=days), ("seen",) * event)
        for item, (letter, days, event) in zip(ids(len(rows)), rows, strict=True)
    ]
    until = MONDAY + datetime.timedelta(days=800)
    planned = plan_counts(items, TIMES, on=MONDAY, until=until)
    assert plan_counts(items[::-1], TIMES, on=MONDAY, until=until) == planned
    assert sorted(one.item for one in planned) == sorted(one.item for one in items)
    assert all(one.planned_on >= max(one.due_on, MONDAY) and one.planned_on.weekday() < 5 for one in planned)
    calm_days = Counter(one.planned_on for one in planned if "seen" not in one.reasons)
    assert max(calm_days.values(), default=0) <= counts_a_day([one.letter for one in items], TIMES)


@given(st.dates())
def test_working_days_agree_with_numpy(day):
    # numpy's business days, Monday to Friday.
    assert working_day(min(day, datetime.date(9999, 12, 20))) == np.busday_offset(
        min(day, datetime.date(9999, 12, 20)), 0, roll="forward"
    ).astype(datetime.date)


@pytest.mark.parametrize(
    ("difference", "cost", "currency", "limit", "needed"),
    [
        ("0", "500", "EUR", "0", False),
        ("-1", "0.10", "EUR", "0", True),
        ("-1", "100", "EUR", "100", False),
        ("-1", "100.01", "EUR", "100", True),
        ("1", "100.01", "EUR", "100", True),
        ("-1", "1", "NOK", "100", True),
        ("-1", None, "", "100", True),
    ],
)
def test_a_difference_above_the_limit_needs_a_second_person(difference, cost, currency, limit, needed):
    # Common practice, no source.
    change = Decimal(difference)
    value = worth(change, None if cost is None else Decimal(cost), currency)
    assert needs_second_person(change, value, Decimal(limit), "EUR") is needed
