"""What can wait for a follow-up. Rules of the shop: common practice, no source."""

from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.split_of_jobs import EACH_VISIT, STAYS, left_out, refused_moves

SECTIONS = ("make-safe", "dismantle", "clean-and-inspect", "assemble", "close-up", "test")
STEPS = [(10 * n, section, "open") for n, section in enumerate(SECTIONS, 1)]
some_steps = st.lists(
    st.tuples(
        st.integers(1, 40),
        st.sampled_from(SECTIONS),
        st.sampled_from(["open", "done", "not-applicable", "moved", "awaiting-release"]),
    ),
    unique_by=lambda one: one[0],
)


def test_inspecting_and_assembling_can_wait():
    assert refused_moves(STEPS, [30, 40]) == []


def test_making_safe_closing_up_and_testing_belong_to_each_visit():
    assert [one.number for one in refused_moves(STEPS, [10, 20, 30, 40, 50, 60])] == [10, 50, 60]


def test_what_is_done_cannot_wait():
    refused = refused_moves([(10, "assemble", "done")], [10])
    assert refused[0].words == "Step 10 is done; only open steps can wait."


def test_a_step_that_is_not_there_is_named():
    assert [one.number for one in refused_moves(STEPS, [99])] == [99]


@given(some_steps, st.sets(st.integers(1, 40)), st.sets(st.integers(1, 40)))
def test_a_follow_up_never_leaves_out_what_each_visit_does_or_what_it_is_to_repeat(steps, before, repeats):
    sections = {number: section for number, section, _ in steps}
    left = left_out(steps, done_before=before, repeats=repeats)
    assert left <= before - repeats
    assert not {sections[one] for one in left} & set(EACH_VISIT)


@given(some_steps, st.sets(st.integers(1, 40)))
def test_whatever_may_move_is_open_and_of_no_visit_alone(steps, wanted):
    known = {number: (section, state) for number, section, state in steps}
    refused = {one.number for one in refused_moves(steps, wanted)}
    for number in wanted - refused:
        assert known[number][0] not in STAYS
        assert known[number][1] == "open"
