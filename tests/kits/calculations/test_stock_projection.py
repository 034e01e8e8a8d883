"""Stock day by day, and the first day on which more can be promised."""

import datetime
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from kits.calculations.stock_projection import Need, Supply, delayed, project, promise, serve

TODAY = datetime.date(2026, 1, 1)


def day(number):
    return TODAY + datetime.timedelta(days=number)


def lot(comes, dies, quantity):
    return Supply("lot", day(comes), None if dies is None else day(dies), Decimal(quantity))


def need(on, quantity, *, held=False):
    return Need("job", day(on), Decimal(quantity), held)


SHELF = [lot(0, 10, 2), lot(0, 60, 1), lot(30, 400, 3)]
JOBS = [need(20, 2), need(40, 1)]


def test_a_lot_that_will_be_dead_serves_nobody():
    found = serve(SHELF, JOBS)
    assert found.short == (1, 0)


@pytest.mark.parametrize(("quantity", "earliest", "on"), [(1, 5, 5), (1, 12, 30), (2, 5, 5), (3, 0, None)])
def test_the_first_day_that_leaves_nobody_short(quantity, earliest, on):
    """A running balance would promise one on day 12, from a lot that died on day 10, and two only on day 30."""
    found = promise(SHELF, JOBS, quantity=Decimal(quantity), earliest=day(earliest))
    assert found == (None if on is None else day(on))


@pytest.mark.parametrize(("earliest", "on"), [(5, 5), (11, 30), (29, 30), (30, 30)])
def test_days_on_which_it_is_possible_do_not_hang_together(earliest, on):
    supplies = [lot(0, 10, 1), lot(30, None, 1)]
    assert promise(supplies, [], quantity=Decimal(1), earliest=day(earliest)) == day(on)


def test_what_is_set_aside_is_on_hand_and_not_free_until_its_day():
    rows = project([lot(0, None, 2)], [need(5, 1, held=True)], start=day(0), until=day(9))
    assert [(one.day, one.on_hand, one.free) for one in rows] == [(day(0), 3, 2), (day(5), 2, 2)]


def test_each_day_tells_what_comes_is_needed_is_short_and_dies():
    rows = project(SHELF, JOBS, start=day(0), until=day(100))
    assert [(one.day, one.received, one.needed, one.short, one.expired, one.on_hand) for one in rows] == [
        (day(0), 0, 0, 0, 0, 3),
        (day(11), 0, 0, 0, 2, 1),
        (day(20), 0, 2, 1, 0, 0),
        (day(30), 3, 0, 0, 0, 3),
        (day(40), 0, 1, 0, 0, 2),
    ]


def test_a_receipt_that_comes_later_promises_later():
    late = delayed(SHELF, [0, 0, 7])
    assert promise(late, JOBS, quantity=Decimal(1), earliest=day(12)) == day(37)


def test_nothing_cannot_be_promised_and_time_does_not_run_back():
    with pytest.raises(ValueError, match="more than nothing"):
        promise(SHELF, JOBS, quantity=Decimal(0), earliest=TODAY)
    with pytest.raises(ValueError, match="ends after it begins"):
        project(SHELF, JOBS, start=day(1), until=day(0))


LOTS = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 8), st.integers(1, 4)), max_size=6)
NEEDS = st.lists(st.tuples(st.integers(0, 15), st.integers(1, 4)), max_size=6)


def most_served(lots, needs):
    """The most units that any matching of lots and needs serves: `scipy.sparse.csgraph.maximum_flow`, the reference."""
    if not lots or not needs:
        return 0
    size = len(lots) + len(needs) + 2
    capacity = np.zeros((size, size), dtype=np.int32)
    for place, one in enumerate(lots, 1):
        capacity[0, place] = int(one.quantity)
        for other, wanted in enumerate(needs, len(lots) + 1):
            if one.from_day <= wanted.day <= one.dies:
                capacity[place, other] = int(one.quantity)
    for other, wanted in enumerate(needs, len(lots) + 1):
        capacity[other, size - 1] = int(wanted.quantity)
    return int(maximum_flow(csr_array(capacity), 0, size - 1).flow_value)


def made(lots, needs):
    return [lot(comes, comes + life, quantity) for comes, life, quantity in lots], [need(*one) for one in needs]


@settings(max_examples=200, deadline=None)
@given(LOTS, NEEDS)
def test_as_many_are_served_as_a_maximum_flow_allows(lots, needs):
    supplies, wanted = made(lots, needs)
    served = sum(one.quantity for one in wanted) - serve(supplies, wanted).shortage
    assert served == most_served(supplies, wanted)


@settings(max_examples=200, deadline=None)
@given(LOTS, NEEDS, st.integers(0, 10), st.integers(1, 4))
def test_the_promise_is_what_trying_every_day_finds(lots, needs, earliest, quantity):
    supplies, wanted = made(lots, needs)
    before = most_served(supplies, wanted)
    possible = [
        day(one)
        for one in range(earliest, 31)
        if most_served(supplies, [*wanted, need(one, quantity)]) == before + quantity
    ]
    assert promise(supplies, wanted, quantity=Decimal(quantity), earliest=day(earliest)) == (possible or [None])[0]


@settings(max_examples=200, deadline=None)
@given(LOTS, NEEDS)
def test_nothing_appears_or_vanishes_between_two_days(lots, needs):
    supplies, wanted = made(lots, needs)
    rows = project(supplies, wanted, start=day(0), until=day(60))
    opening = sum(one.quantity for one in supplies if one.from_day <= day(0))
    for row in rows:
        opening += row.received - row.served - row.expired
        assert row.on_hand == opening
        assert row.on_hand >= 0
        assert row.needed == row.served + row.short
