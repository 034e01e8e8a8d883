"""What of a job can wait for a follow-up, and what cannot.

The rule of the shop (common practice, no source): a pump that goes back together goes back whole and safe.

* Making safe belongs to each visit: it never moves, and the follow-up does it again before anything else.
* Closing up and testing belong to each visit too: guards refitted, leak test, run test. They stay with this job, and
  the follow-up does them again.
* What can wait is dismantling, cleaning, inspecting and assembling that has not been begun. Dismantling is done again
  by the follow-up in any case, since the pump was closed meanwhile.
* Cleaning, inspecting and assembling that was done before is not done twice, unless the follow-up is told to.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

EACH_VISIT = ("make-safe", "dismantle", "close-up", "test")
STAYS = ("make-safe", "close-up", "test")

# Number, section and state.
StepSeen = tuple[int, str, str]


@dataclass(frozen=True)
class Refused:
    """A step that cannot be moved, and why."""

    number: int
    words: str


def refused_moves(steps: Sequence[StepSeen], wanted: Collection[int]) -> list[Refused]:
    """Which of the wanted steps cannot move to a follow-up, in the order of the steps."""
    known = {number: (section, state) for number, section, state in steps}
    refused = []
    for number in sorted(set(wanted)):
        if number not in known:
            refused.append(Refused(number, f"The job has no step {number}."))
            continue
        section, state = known[number]
        if section in STAYS:
            refused.append(
                Refused(number, f"Step {number} belongs to {section.replace('-', ' ')}, which every visit does itself.")
            )
        elif state != "open":
            refused.append(Refused(number, f"Step {number} is {state.replace('-', ' ')}; only open steps can wait."))
    return refused


def left_out(steps: Sequence[StepSeen], *, done_before: Collection[int], repeats: Collection[int]) -> set[int]:
    """Numbers of steps that a follow-up need not do: done by an earlier job, not of each visit, not to be repeated."""
    return {
        number
        for number, section, _ in steps
        if number in done_before and section not in EACH_VISIT and number not in repeats
    }
