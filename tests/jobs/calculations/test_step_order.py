"""The order of steps is the same whether it is looked through at once or followed step by step."""

from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.step_order import Obstacle, Order, Standing, obstacle

STATES = ("open", "done", "awaiting-release", "not-applicable")
STEPS = st.lists(
    st.builds(
        Standing,
        number=st.integers(1, 12),
        section=st.sampled_from(["make-safe", "clean-and-inspect"]),
        state=st.sampled_from(STATES),
        hold_point=st.booleans(),
    ),
    min_size=1,
    max_size=12,
    unique_by=lambda one: one.number,
)


@given(STEPS, st.lists(st.tuples(st.integers(0, 11), st.sampled_from(STATES)), max_size=8))
def test_a_step_that_changes_leaves_the_order_that_is_found_anew(steps, changes):
    steps, order = list(steps), Order.of(steps)
    for place, state in changes:
        before = steps[place % len(steps)]
        now = Standing(before.number, before.section, state, before.hold_point)
        steps[place % len(steps)] = now
        order = order.with_changed(now)
        assert order == Order.of(steps)


@given(STEPS)
def test_each_step_finds_the_obstacle_that_it_finds_alone(steps):
    order = Order.of(steps)
    assert all(order.obstacle(number) == obstacle(steps, number) for number in range(14))


def test_what_was_seen_and_made_safe_stands_in_nobodys_way():
    steps = [
        Standing(10, "make-safe", "done", False),
        Standing(20, "clean-and-inspect", "open", True),
        Standing(30, "clean-and-inspect", "open", False),
    ]
    order = Order.of(steps)
    assert order.obstacle(20) is None
    assert order.obstacle(30) == Obstacle("hold-point-waits", (20,))
    assert order.with_changed(Standing(20, "clean-and-inspect", "done", True)).obstacle(30) is None
