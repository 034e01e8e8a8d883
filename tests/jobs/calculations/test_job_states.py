"""The life of a job."""

import pytest

from jobs.calculations.job_states import ACTIONS, StateRefused, check_move, possible_from


def test_from_plan_to_signature() -> None:
    state = "planned"
    for action in ("ready", "start", "finish", "sign-off"):
        state = check_move(state, action)
    assert state == "closed"


@pytest.mark.parametrize("state", ["planned", "ready", "in-progress", "awaiting-sign-off"])
def test_a_live_job_can_be_held_and_resumed(state: str) -> None:
    assert check_move(state, "hold") == "on-hold"
    assert check_move("on-hold", "resume") == ""


@pytest.mark.parametrize("state", ["planned", "ready", "in-progress", "awaiting-sign-off", "on-hold"])
def test_a_live_job_can_be_cancelled(state: str) -> None:
    assert check_move(state, "cancel") == "cancelled"


@pytest.mark.parametrize("state", ["closed", "cancelled"])
@pytest.mark.parametrize("action", ACTIONS)
def test_nothing_leads_on_from_the_end(state: str, action: str) -> None:
    with pytest.raises(StateRefused, match="Nothing leads on"):
        check_move(state, action)
    assert possible_from(state) == ()


@pytest.mark.parametrize(
    ("state", "action"), [("on-hold", "start"), ("planned", "finish"), ("in-progress", "sign-off"), ("ready", "resume")]
)
def test_a_refusal_says_what_is_possible(state: str, action: str) -> None:
    with pytest.raises(StateRefused, match=r"Possible from here: .*cancel"):
        check_move(state, action)
