"""How many kits loose parts make, and which parts go into them."""

from decimal import Decimal
from itertools import combinations_with_replacement, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from kits.calculations.kit_building import Choice, Requirement, buildable, divide, holding_up


def line(number, quantity, parts, *, optional=False):
    return Requirement((Choice(number, Decimal(quantity), tuple(parts)),), optional)


def either(*choices):
    return Requirement(tuple(Choice(number, Decimal(quantity), tuple(parts)) for number, quantity, parts in choices))


def stock(**quantities):
    return {part: Decimal(quantity) for part, quantity in quantities.items()}


def test_the_scarcest_line_says_how_many():
    needs = [line(1, 2, "a"), line(2, 6, "b"), line(3, 1, "c")]
    assert buildable(needs, stock(a=7, b=25, c=4)) == 3
    assert holding_up(needs, stock(a=7, b=25, c=4), 3) == [1]


def test_a_part_that_only_one_line_can_use_is_kept_for_it():
    """Taking the first part that fits builds none here. Maximum flow: Ford, Fulkerson 1956, Canadian Journal of
    Mathematics 8:399-404."""
    needs = [line(1, 1, "xy"), line(2, 1, "x")]
    found = divide(needs, stock(x=1, y=1), 1)
    assert {(one.line, one.part) for one in found.taken} == {(1, "y"), (2, "x")}


def test_two_parts_may_be_mixed_on_one_line():
    needs = [line(1, 2, "xy"), line(2, 1, "yz"), line(3, 1, "z")]
    assert buildable(needs, stock(x=3, y=3, z=4)) == 2


def test_a_line_of_nothing_is_passed_over_and_a_kit_without_lines_is_never_built():
    assert buildable([line(1, 0, "a"), line(2, 1, "b")], stock(b=2)) == 2
    assert buildable([], stock(b=2)) == 0


def test_stock_below_zero_counts_as_nothing():
    assert buildable([line(1, 1, "ab")], stock(a=-3, b=2)) == 2


def test_metres_and_kilograms_are_cut_to_the_thousandth_and_pieces_are_not():
    assert buildable([line(1, "0.25", "a")], stock(a="0.8")) == 3
    assert buildable([line(1, 2, "ab")], stock(a="1.5", b="1.5")) == 1


def test_an_alternative_line_takes_its_own_quantity():
    needs = [either((1, 1, "y"), (2, 2, "z"))]
    assert buildable(needs, stock(y=1, z=5)) == 3
    assert {(one.line, one.part, one.quantity) for one in divide(needs, stock(y=1, z=5), 1).taken} == {(1, "y", 1)}


def test_what_the_line_names_goes_in_before_what_may_stand_for_it():
    found = divide([line(1, 2, ("named", "newer"))], stock(named=3, newer=9), 2)
    assert {one.part: one.quantity for one in found.taken} == {"named": 3, "newer": 1}


def test_an_optional_line_is_left_out_where_it_would_cost_a_kit():
    needs = [line(1, 1, "x"), line(2, 1, "x", optional=True), line(3, 1, "w", optional=True)]
    found = divide(needs, stock(x=3, w=2), 2)
    assert (found.kits, found.left_out) == (2, (2,))
    assert sum(one.quantity for one in found.taken) == 4


def test_more_than_there_is_takes_nothing():
    assert divide([line(1, 1, "x")], stock(x=3), 4) == divide([line(1, 1, "x")], stock(x=3), 9)
    assert divide([line(1, 1, "x")], stock(x=3), 4).taken == ()


@pytest.mark.parametrize("kits", [0, -1, 100_001])
def test_a_number_of_kits_that_cannot_be_is_refused(kits):
    with pytest.raises(ValueError, match="kits are built at once"):
        divide([line(1, 1, "x")], stock(x=3), kits)


def by_maximum_flow(quantities, allowed, free):
    """The most kits by bisection over `scipy.sparse.csgraph.maximum_flow` (the reference), parts -> lines."""

    def feasible(kits):
        lines, parts = len(quantities), len(free)
        size = lines + parts + 2
        capacity = np.zeros((size, size), dtype=np.int32)
        capacity[0, 1 : parts + 1] = free
        for place, one in enumerate(allowed):
            for part in one:
                capacity[1 + part, 1 + parts + place] = free[part]
            capacity[1 + parts + place, size - 1] = kits * quantities[place]
        return maximum_flow(csr_array(capacity), 0, size - 1).flow_value == kits * sum(quantities)

    kits = 0
    while feasible(kits + 1):
        kits += 1
    return kits


PARTS = range(4)
LINES = st.lists(
    st.tuples(st.integers(1, 4), st.sets(st.sampled_from(list(PARTS)), min_size=1, max_size=3)), min_size=1, max_size=5
)


@settings(max_examples=150, deadline=None)
@given(LINES, st.lists(st.integers(0, 12), min_size=4, max_size=4))
def test_as_many_as_a_maximum_flow_allows(lines, free):
    needs = [line(number, quantity, sorted(parts)) for number, (quantity, parts) in enumerate(lines)]
    have = {part: Decimal(quantity) for part, quantity in enumerate(free)}
    most = buildable(needs, have)
    assert most == by_maximum_flow([one for one, _ in lines], [sorted(parts) for _, parts in lines], free)
    if most:
        must_hold(divide(needs, have, most), needs, have, most)


def must_hold(found, needs, have, kits):
    """What is taken is there, stands where it may, and fills every need."""
    used = {part: sum(one.quantity for one in found.taken if one.part == part) for part in have}
    assert all(used[part] <= have[part] for part in have)
    choices = {choice.line: choice for one in needs for choice in one.choices}
    assert all(one.part in choices[one.line].parts for one in found.taken)
    for need in needs:
        served = sum(
            sum(one.quantity for one in found.taken if one.line == choice.line) / choice.quantity
            for choice in need.choices
        )
        assert served == kits


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(st.tuples(st.integers(1, 3), st.integers(0, 2)), min_size=1, max_size=2), min_size=1, max_size=2),
    st.lists(st.integers(0, 5), min_size=3, max_size=3),
)
def test_with_alternatives_as_many_as_trying_everything_finds(groups, free):
    """Every division of the kits among the alternative lines of each need, tried one by one."""
    numbers = iter(range(9))
    needs = [either(*((next(numbers), quantity, [part]) for quantity, part in group)) for group in groups]
    have = {part: Decimal(quantity) for part, quantity in enumerate(free)}

    def feasible(kits):
        for divided in product(*(list(combinations_with_replacement(range(len(one)), kits)) for one in groups)):
            used = [0, 0, 0]
            for group, chosen in zip(groups, divided, strict=True):
                for one in chosen:
                    used[group[one][1]] += group[one][0]
            if all(taken <= there for taken, there in zip(used, free, strict=True)):
                return True
        return False

    most = buildable(needs, have)
    assert feasible(most)
    assert not feasible(most + 1)
