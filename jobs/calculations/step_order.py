"""In which order the steps of a job may be worked on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

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


@dataclass(frozen=True)
class Order:
    """The steps of a job as they stand, looked through once for many questions."""

    steps: Mapping[int, Standing]
    unsafe: tuple[int, ...]
    waiting: tuple[int, ...]
    unseen: tuple[int, ...]

    @classmethod
    def of(cls, steps: Iterable[Standing]) -> "Order":
        """The order of all steps of one job."""
        steps = list(steps)
        return cls(
            steps={one.number: one for one in steps},
            unsafe=not_made_safe((one.number, one.section, one.state) for one in steps),
            waiting=tuple(one.number for one in steps if one.state == "awaiting-release"),
            unseen=tuple(one.number for one in steps if one.state == "open" and one.hold_point),
        )

    def with_changed(self, one: Standing) -> "Order":
        """The order with one step as it stands now."""
        steps = {**self.steps, one.number: one}
        if one.state in UNDONE or one.number in (*self.unsafe, *self.waiting, *self.unseen):
            return Order.of(steps.values())
        # No other step waited for it.
        return replace(self, steps=steps)

    def obstacle(self, number: int) -> Obstacle | None:
        """What keeps a step from being worked on now; None where nothing does."""
        step = self.steps.get(number)
        if step is None:
            return Obstacle("step-unknown")
        if step.state != "open":
            return Obstacle("step-not-open")
        if step.section != MAKE_SAFE and self.unsafe:
            return Obstacle("make-safe-first", self.unsafe)
        before = tuple(one for one in self.waiting + self.unseen if one < number)
        return Obstacle("hold-point-waits", before) if before else None


def obstacle(steps: Iterable[Standing], number: int) -> Obstacle | None:
    """What keeps a step from being worked on now; None where nothing does.

    Making safe comes first, whole. A hold point before it must have been released by another person.
    """
    return Order.of(steps).obstacle(number)
