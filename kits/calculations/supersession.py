"""Which part replaces which, from when, and in which direction one may stand for another."""

import datetime
from collections import deque
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, field
from typing import Generic, TypeVar

P = TypeVar("P", bound=Hashable)


@dataclass(frozen=True)
class Link(Generic[P]):
    """``new`` replaces ``old`` from a day; both ways where the old may also stand for the new."""

    old: P
    new: P
    from_date: datetime.date
    both_ways: bool = False


@dataclass
class Supersessions(Generic[P]):
    """Chains of supersession. Walks are by breadth and never recursive, so long chains are no trouble."""

    links: Iterable[Link[P]]
    _forward: dict[P, list[Link[P]]] = field(default_factory=dict, init=False)
    _backward: dict[P, list[Link[P]]] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        for one in self.links:
            self._forward.setdefault(one.old, []).append(one)
            self._backward.setdefault(one.new, []).append(one)

    def serves(self, asked: P, offered: P, on: datetime.date) -> tuple[P, ...] | None:
        """The chain by which the offered part may stand where the asked one was, or None. The newer serves for the
        older from its date on; the older for the newer only over links that hold both ways."""
        seen: dict[P, P | None] = {asked: None}
        waiting = deque([asked])
        while waiting:
            part = waiting.popleft()
            if part == offered and part != asked:
                return self._path(seen, part)
            steps = [one.new for one in self._forward.get(part, []) if one.from_date <= on]
            steps += [one.old for one in self._backward.get(part, []) if one.both_ways and one.from_date <= on]
            for step in steps:
                if step not in seen:
                    seen[step] = part
                    waiting.append(step)
        return None

    def standing_for(self, asked: P, on: datetime.date) -> set[P]:
        """Every part that may stand where the asked one was, without itself."""
        seen, waiting = {asked}, deque([asked])
        while waiting:
            part = waiting.popleft()
            steps = [one.new for one in self._forward.get(part, []) if one.from_date <= on]
            steps += [one.old for one in self._backward.get(part, []) if one.both_ways and one.from_date <= on]
            fresh = [one for one in steps if one not in seen]
            seen.update(fresh)
            waiting.extend(fresh)
        return seen - {asked}

    def chains(self) -> list[list[Link[P]]]:
        """The links, those that hang together in one list each."""
        found: list[list[Link[P]]] = []
        seen: set[P] = set()
        for start in self._forward:
            if start in seen:
                continue
            seen.add(start)
            chain: list[Link[P]] = []
            waiting = deque([start])
            while waiting:
                part = waiting.popleft()
                chain += self._forward.get(part, [])
                beside = [one.new for one in self._forward.get(part, [])]
                beside += [one.old for one in self._backward.get(part, [])]
                fresh = {one for one in beside if one not in seen}
                seen |= fresh
                waiting.extend(fresh)
            found.append(chain)
        return found

    @staticmethod
    def _path(seen: dict[P, P | None], end: P) -> tuple[P, ...]:
        path, here = [end], seen[end]
        while here is not None:
            path.append(here)
            here = seen[here]
        return tuple(reversed(path))

    def newest(self, part: P, on: datetime.date) -> P:
        """The end of the chain on a day: what would be ordered today."""
        seen = {part}
        while True:
            steps = sorted(
                (one for one in self._forward.get(part, []) if one.from_date <= on and one.new not in seen),
                key=lambda one: (one.from_date, str(one.new)),
            )
            if not steps:
                return part
            part = steps[-1].new
            seen.add(part)

    def replaced_by(self, part: P) -> list[P]:
        """Everything that comes after a part in its chains, nearest first."""
        return self._reach(part, self._forward, lambda one: one.new)

    def replaces(self, part: P) -> list[P]:
        """Everything that came before a part in its chains, nearest first."""
        return self._reach(part, self._backward, lambda one: one.old)

    @staticmethod
    def _reach(part: P, links: dict[P, list[Link[P]]], end: object) -> list[P]:
        found: list[P] = []
        seen, waiting = {part}, deque([part])
        while waiting:
            for one in links.get(waiting.popleft(), []):
                step: P = end(one)  # type: ignore[operator]
                if step not in seen:
                    seen.add(step)
                    found.append(step)
                    waiting.append(step)
        return found


def closes_a_cycle(links: Iterable[Link[P]], added: Link[P]) -> bool:
    """Whether a further link would lead a chain back to its beginning."""
    return added.old == added.new or added.old in Supersessions(links).replaced_by(added.new)
