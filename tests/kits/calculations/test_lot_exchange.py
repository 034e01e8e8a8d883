"""Reserved claims exchange lots only where something is gained, and nobody is left with less."""

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from kits.calculations.allocation import LotStock
from kits.calculations.lot_exchange import Holder, exchange
from kits.calculations.stock_projection import Need, Supply
from tests.kits.calculations.test_stock_projection import TODAY, day, most_served


def lot(key, dies, free=0):
    return LotStock(key, key, None if dies is None else day(dies), TODAY, Decimal(free))


def holder(name, on, *holds):
    return Holder(name, day(on), tuple((key, Decimal(amount)) for key, amount in holds))


def test_a_lot_that_dies_earlier_and_still_lasts_is_taken_instead():
    assert exchange([holder("A", 10, ("late", 1))], [lot("late", 90), lot("early", 20, 1)]) == {"A": (("early", 1),)}


def test_one_that_would_be_dead_on_the_day_is_not():
    assert exchange([holder("A", 30, ("late", 1))], [lot("late", 90), lot("early", 20, 1)]) == {}


def test_who_holds_only_what_will_be_dead_gets_a_lot_that_lasts():
    assert exchange([holder("A", 30, ("early", 1))], [lot("early", 20), lot("late", 90, 1)]) == {"A": (("late", 1),)}


def test_two_claims_are_not_made_to_swap_for_nothing():
    claims = [holder("A", 10, ("late", 1)), holder("B", 12, ("early", 1))]
    assert exchange(claims, [lot("late", 90), lot("early", 20)]) == {}


def test_two_claims_swap_where_that_saves_one_of_them():
    claims = [holder("A", 10, ("late", 1)), holder("B", 30, ("early", 1))]
    found = exchange(claims, [lot("late", 90), lot("early", 20)])
    assert found == {"A": (("early", 1),), "B": (("late", 1),)}


def test_who_holds_a_dead_lot_gets_none_that_another_needs():
    claims = [holder("A", 30, ("late", 1)), holder("B", 31, ("early", 1))]
    assert exchange(claims, [lot("late", 90), lot("early", 20)]) == {}


LOTS = st.lists(st.tuples(st.integers(0, 14), st.integers(0, 2)), min_size=1, max_size=5)
CLAIMS = st.lists(st.tuples(st.integers(0, 14), st.integers(0, 4), st.integers(1, 2)), max_size=5)


@settings(max_examples=100, deadline=None)
@given(LOTS, CLAIMS)
def test_nobody_is_left_with_less_and_the_free_lots_serve_no_fewer(lots, claims):
    """Reference: `scipy.sparse.csgraph.maximum_flow`, for what the lots that are free afterwards could serve."""
    shelf = [lot(f"L-{number}", dies, free) for number, (dies, free) in enumerate(lots)]
    dies = {one.key: one.usable_until for one in shelf}
    holders = [
        holder(f"C-{number}", on, (f"L-{at % len(shelf)}", amount)) for number, (on, at, amount) in enumerate(claims)
    ]
    changed = exchange(holders, shelf)
    free = {one.key: one.free for one in shelf}
    for one in holders:
        now = changed.get(one.name, one.holds)
        assert sum(amount for _, amount in now) == one.quantity
        in_date = [sum(amount for key, amount in held if dies[key] >= one.day) for held in (one.holds, now)]
        assert in_date[1] >= in_date[0]
        for key, amount in one.holds:
            free[key] += amount
        for key, amount in now:
            free[key] -= amount
    assert min(free.values()) >= 0
    if all(dies[key] >= one.day for one in holders for key, _ in one.holds):
        for number in range(15):
            needs = [Need("", day(number), Decimal(99))]
            before = [Supply("", TODAY, one.usable_until, one.free) for one in shelf]
            after = [Supply("", TODAY, one.usable_until, free[one.key]) for one in shelf]
            assert most_served(after, needs) >= most_served(before, needs)
