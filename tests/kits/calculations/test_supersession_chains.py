"""Chains of supersession: days, withdrawn links, circles on some day only, long chains.

Circles are held against `graphlib.TopologicalSorter` of the standard library, day by day.
"""

import datetime
import graphlib
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kits.calculations.supersession import Link, Supersessions, closes_a_cycle

FIRST = datetime.date(2026, 1, 1)
DAYS = 6


def day(number):
    return FIRST + datetime.timedelta(days=number)


PARTS = st.integers(0, 5)


@st.composite
def links(draw):
    begin = draw(st.integers(0, DAYS - 1))
    end = draw(st.none() | st.integers(begin - 1, DAYS))
    return Link(draw(PARTS), draw(PARTS), day(begin), draw(st.booleans()), None if end is None else day(end))


def circular_on(kept, on):
    graph: dict[int, set[int]] = {}
    for one in kept:
        if one.from_date <= on and (one.until_date is None or one.until_date >= on):
            graph.setdefault(one.new, set()).add(one.old)
    try:
        tuple(graphlib.TopologicalSorter(graph).static_order())
    except graphlib.CycleError:
        return True
    return False


def circular(kept):
    return any(circular_on(kept, day(number)) for number in range(-1, DAYS + 2))


class TestCircles:
    @given(st.lists(links(), max_size=12))
    def test_a_link_is_refused_just_where_some_day_would_see_a_circle(self, offered):
        kept: list[Link[int]] = []
        for one in offered:
            if one.old == one.new:
                assert closes_a_cycle(kept, one)
                continue
            assert closes_a_cycle(kept, one) == circular([*kept, one])
            if not circular([*kept, one]):
                kept.append(one)

    def test_chains_that_follow_each_other_in_time_are_none(self):
        before = Link("A", "B", day(0), until_date=day(2))
        assert not closes_a_cycle([before], Link("B", "A", day(3)))
        assert closes_a_cycle([before], Link("B", "A", day(2)))


class TestWhatServes:
    @given(st.lists(links(), max_size=12), PARTS, st.integers(0, DAYS))
    def test_agrees_with_taking_steps_until_nothing_new_is_reached(self, offered, asked, number):
        on, reached = day(number), {asked}
        for _ in range(6):
            for one in offered:
                if one.from_date <= on and (one.until_date is None or on <= one.until_date):
                    reached |= {one.new} if one.old in reached else set()
                    reached |= {one.old} if one.both_ways and one.new in reached else set()
        chains = Supersessions(offered)
        assert chains.standing_for(asked, on) == reached - {asked}
        assert {part for part in range(6) if chains.serves(asked, part, on)} == reached - {asked}

    def test_names_the_chain_and_forgets_what_was_dropped(self):
        over = Link("B", "C", day(0))
        chains = Supersessions([Link("A", "B", day(0), until_date=day(3)), over])
        assert chains.serves("A", "C", day(3)) == ("A", "B", "C")
        assert chains.serves("A", "C", day(4)) is None
        chains.drop(over)
        assert chains.serves("A", "C", day(3)) is None
        chains.add(over)
        assert chains.serves("A", "C", day(3)) == ("A", "B", "C")
        with pytest.raises(ValueError, match="not in list"):
            chains.drop(Link("A", "C", day(0)))

    def test_both_directions_with_their_steps(self):
        chains = Supersessions([Link("A", "B", day(0)), Link("B", "C", day(9)), Link("Z", "B", day(0))])
        assert [(steps, one.new) for steps, one in chains.following("A")] == [(1, "B"), (2, "C")]
        assert [(steps, one.old) for steps, one in chains.preceding("C")] == [(1, "B"), (2, "A"), (2, "Z")]
        assert chains.path_to_newest("A", day(9)) == ("A", "B", "C")


class TestLongChains:
    def test_every_pair_of_two_hundred_links_is_answered_within_a_moment(self):
        chains = Supersessions([Link(place, place + 1, day(0)) for place in range(200)])
        begun = time.perf_counter()
        served = sum(chains.serves(old, new, day(1)) is not None for old in range(201) for new in range(201))
        assert served == 200 * 201 / 2
        assert time.perf_counter() - begun < 2
