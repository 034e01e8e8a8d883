"""In which order the steps of a job may be worked on."""

from collections.abc import Iterable
from dataclasses import dataclass

MAKE_SAFE = "make-safe"
UNDONE = frozenset({"open", "awaiting-release"})


@dataclass(frozen=True)
class Standing:
    """One step of a job as it stands: ``state`` is open, done, awaiting-release or not-applicable."""

    number: int
    section: str
    state: str
    hold_point: bool


@dataclass(frozen=True)
class Obstacle:
    """Why a step cannot be worked on: ``code`` is step-unknown, step-not-open, make-safe-first or hold-point-waits;
    ``numbers`` names the steps that stand before it."""

    code: str
    numbers: tuple[int, ...] = ()


def not_made_safe(steps: Iterable[tuple[int, str, str]]) -> tuple[int, ...]:
    """Make-safe steps that are not confirmed, of (number, section, state); nothing else begins before they are."""
    return tuple(sorted(number for number, section, state in steps if section == MAKE_SAFE and state in UNDONE))


def obstacle(steps: Iterable[Standing], number: int) -> Obstacle | None:
    """What keeps a step from being worked on now; None where nothing does.

    Making safe comes first, whole. A hold point before it must have been released by another person.
    """
    steps = list(steps)
    step = next((one for one in steps if one.number == number), None)
    if step is None:
        return Obstacle("step-unknown")
    if step.state != "open":
        return Obstacle("step-not-open")
    unsafe = not_made_safe((one.number, one.section, one.state) for one in steps)
    if step.section != MAKE_SAFE and unsafe:
        return Obstacle("make-safe-first", unsafe)
    waiting = [one.number for one in steps if one.number < number and one.state == "awaiting-release"]
    unseen = [one.number for one in steps if one.number < number and one.state == "open" and one.hold_point]
    if waiting or unseen:
        return Obstacle("hold-point-waits", tuple(waiting + unseen))
    return None
