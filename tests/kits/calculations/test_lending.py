"""What a site can lend without its own jobs going short."""

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from kits.calculations.lending import lend, lendable
from kits.calculations.stock_projection import Need, Supply
from tests.kits.calculations.test_stock_projection import TODAY, day, most_served


def lot(dies, quantity, comes=0):
    return Supply(f"dies {dies}", day(comes), None if dies is None else day(dies), Decimal(quantity))


def need(on, quantity):
    return Need("job", day(on), Decimal(quantity))


def test_lots_that_die_first_leave_first_if_they_last_until_then():
    found = lend([lot(None, 1), lot(5, 1), lot(20, 1)], Decimal(2), leaving=TODAY, lasting=day(9))
    assert found.taken == ((2, 1), (0, 1))
    assert [one.quantity for one in found.left] == [0, 1, 0]


def test_what_the_lenders_jobs_need_stays():
    found = lendable([lot(10, 1), lot(90, 2)], [need(40, 1)], leaving=TODAY, lasting=day(20))
    assert found.quantity == 1
    assert lendable([lot(30, 1)], [need(10, 1)], leaving=TODAY, lasting=day(20)).quantity == 0


LOTS = st.lists(st.tuples(st.integers(0, 16), st.integers(1, 4)), max_size=5)
NEEDS = st.lists(st.tuples(st.integers(0, 16), st.integers(1, 4)), max_size=5)


@settings(max_examples=100, deadline=None)
@given(LOTS, NEEDS, st.integers(0, 16))
def test_it_is_the_most_that_leaves_the_lenders_flow_as_it_was(lots, needs, lasting):
    """Reference: `scipy.sparse.csgraph.maximum_flow`, over the lender's needs and one more sink for what leaves: the
    most that leaves is what the flow to both gains over the flow to the needs alone."""
    supplies, wanted = [lot(dies, quantity) for dies, quantity in lots], [need(*one) for one in needs]
    found = lendable(supplies, wanted, leaving=TODAY, lasting=day(lasting))
    assert all(supplies[place].dies >= day(lasting) for place, _ in found.taken)
    # A need on the day until which it must last is met by exactly the lots that may leave.
    total = sum(int(one.quantity) for one in supplies)
    gained = max(most_served(supplies, [*wanted, need(lasting, total + 1)]) - most_served(supplies, wanted), 0)
    assert found.quantity == gained
    assert most_served(found.left, wanted) == most_served(supplies, wanted)


@settings(max_examples=60, deadline=None)
@given(LOTS, st.integers(0, 9), st.integers(0, 16))
def test_nothing_appears_or_vanishes(lots, quantity, lasting):
    supplies = [lot(dies, amount) for dies, amount in lots]
    found = lend(supplies, Decimal(quantity), leaving=TODAY, lasting=day(lasting))
    assert found.quantity <= quantity
    assert sum(one.quantity for one in found.left) + found.quantity == sum(one.quantity for one in supplies)
