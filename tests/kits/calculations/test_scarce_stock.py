"""Who gets scarce kits, who waits until when, and what the order costs."""

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from kits.calculations.scarce_stock import Wish, share_out
from kits.calculations.stock_projection import Need
from tests.kits.calculations.test_stock_projection import TODAY, day, lot, most_served


def wish(name, criticality, due, quantity=1):
    return Wish(name, criticality, day(due), Decimal(quantity))


def shared(supplies, *wishes):
    found = share_out(supplies, wishes, today=TODAY)
    return found, {one.wish.job_number: one for one in found.shares}


def test_the_vital_pump_comes_before_the_earlier_day_and_that_before_the_lower_number():
    found, _ = shared(
        [lot(0, None, 9)],
        wish("J-4", "", 1),
        wish("J-3", "desirable", 2),
        wish("J-2", "vital", 9),
        wish("J-1", "vital", 9),
        wish("J-5", "essential", 1),
    )
    assert [one.wish.job_number for one in found.shares] == ["J-1", "J-2", "J-5", "J-3", "J-4"]
    assert (found.asked, found.on_their_day, found.fewer) == (5, 5, 0)


def test_who_waits_for_what_until_when_behind_whom():
    _, by_job = shared([lot(0, None, 1), lot(30, None, 1)], wish("J-1", "desirable", 5), wish("J-2", "vital", 9))
    assert (by_job["J-2"].on, by_job["J-2"].waits) == (day(9), False)
    late = by_job["J-1"]
    assert (late.on, late.waits_for, late.behind, late.enough_alone) == (day(30), ("lot",), ("J-2",), True)


def test_what_never_comes_is_said_and_is_nobodys_fault():
    _, by_job = shared([lot(0, 10, 3)], wish("J-1", "vital", 20))
    assert (by_job["J-1"].on, by_job["J-1"].enough_alone) == (None, False)


def test_a_vital_job_that_is_late_already_costs_another_its_day_and_that_is_counted():
    """The order by date would serve the second job on its day and the first one never on its own."""
    found, by_job = shared([lot(30, None, 1)], wish("J-1", "vital", 5), wish("J-2", "desirable", 30))
    assert by_job["J-1"].on == day(30)
    assert by_job["J-2"].on is None
    assert (found.on_their_day, found.on_their_day_at_most, found.fewer) == (0, 1, 1)


def test_a_lot_that_dies_early_is_kept_for_who_can_take_no_other():
    """Served one after the other by rank, the vital job would take the lot that dies first, and J-2 go without."""
    found, by_job = shared([lot(0, 10, 1), lot(0, 60, 1)], wish("J-1", "vital", 5), wish("J-2", "desirable", 40))
    assert found.fewer == 0
    assert by_job["J-2"].on == day(40)
    found, _ = shared([lot(0, 10, 1), lot(8, 60, 1)], wish("J-1", "vital", 9), wish("J-2", "desirable", 5))
    assert (found.on_their_day, found.fewer) == (2, 0)


def test_a_day_that_has_passed_counts_as_today():
    _, by_job = shared([lot(0, None, 1)], wish("J-1", "vital", -4))
    assert (by_job["J-1"].on, by_job["J-1"].waits) == (TODAY, False)


SUPPLIES = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 8), st.integers(1, 3)), max_size=5)
WISHES = st.lists(
    st.tuples(st.sampled_from(["vital", "essential", "desirable", ""]), st.integers(0, 15), st.integers(1, 2)),
    max_size=6,
)


def made(supplies, wishes):
    lots = [lot(comes, comes + life, quantity) for comes, life, quantity in supplies]
    return lots, [wish(f"J-{number}", *one) for number, one in enumerate(wishes)]


@settings(max_examples=80, deadline=None)
@given(SUPPLIES, WISHES)
def test_everybody_gets_the_first_day_that_those_before_leave(supplies, wishes):
    """Reference: `scipy.sparse.csgraph.maximum_flow`, every day tried one after the other."""
    lots, wanted = made(supplies, wishes)
    found = share_out(lots, wanted, today=TODAY)
    before: list[Need] = []
    total = 0
    for one in found.shares:
        amount = int(one.wish.quantity)
        possible = [
            day(number)
            for number in range((one.due - TODAY).days, 25)
            if most_served(lots, [*before, Need("", day(number), one.wish.quantity)]) == total + amount
        ]
        assert one.on == (possible or [None])[0]
        if one.on is not None:
            before.append(Need("", one.on, one.wish.quantity))
            total += amount
    at_due = [Need("", one.due, one.quantity) for one in wanted]
    assert found.on_their_day_at_most == most_served(lots, at_due)
    assert found.fewer >= 0


@settings(max_examples=80, deadline=None)
@given(SUPPLIES, WISHES)
def test_sharing_out_what_is_there_in_single_units_serves_as_many_as_any_order(supplies, wishes):
    """Reference: `scipy.sparse.csgraph.maximum_flow`."""
    lots, wanted = made([(0, life, quantity) for _, life, quantity in supplies], [(*one[:2], 1) for one in wishes])
    found = share_out(lots, wanted, today=TODAY)
    assert found.on_their_day == most_served(lots, [Need("", one.due, one.quantity) for one in wanted])
