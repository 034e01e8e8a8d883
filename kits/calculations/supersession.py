"""Which part replaces which, from when until when, and in which direction one may stand for another."""

import datetime
from collections import deque
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

P = TypeVar("P", bound=Hashable)
# How many places of walks are remembered; beyond it the memory is emptied and filled anew.
MOST_REMEMBERED = 500_000


@dataclass(frozen=True, slots=True)
class Link(Generic[P]):
    """``new`` replaces ``old`` from a day, and until another one where it was withdrawn, both days included; both
    ways where the old may also stand for the new."""

    old: P
    new: P
    from_date: datetime.date
    both_ways: bool = False
    until_date: datetime.date | None = None

    def holds(self, on: datetime.date) -> bool:
        """Whether it holds on a day."""
        return self.from_date <= on and (self.until_date is None or on <= self.until_date)


class Supersessions(Generic[P]):
    """Chains of supersession. Walks are by breadth, never recursive, and never pass a part twice: long chains are no
    trouble, nor would a circle be. A walk is remembered, so that the same question is answered at once."""

    def __init__(self, links: Iterable[Link[P]] = ()) -> None:
        self._forward: dict[P, list[Link[P]]] = {}
        self._backward: dict[P, list[Link[P]]] = {}
        self._trees: dict[tuple[P, datetime.date], dict[P, P | None]] = {}
        self._remembered = 0
        for one in links:
            self._forward.setdefault(one.old, []).append(one)
            self._backward.setdefault(one.new, []).append(one)

    def add(self, link: Link[P]) -> None:
        """Take up a further link."""
        self._forward.setdefault(link.old, []).append(link)
        self._backward.setdefault(link.new, []).append(link)
        self._forget()

    def drop(self, link: Link[P]) -> None:
        """Leave a link out again. Raises `ValueError` where it is not among them."""
        self._forward.get(link.old, []).remove(link)
        self._backward[link.new].remove(link)
        self._forget()

    def serves(self, asked: P, offered: P, on: datetime.date) -> tuple[P, ...] | None:
        """The chain by which the offered part may stand where the asked one was, or None. The newer serves for the
        older from its date on; the older for the newer only over links that hold both ways."""
        if asked == offered or not self.names(asked) or not self.names(offered):
            return None
        tree = self._tree(asked, on)
        if offered not in tree:
            return None
        path, here = [offered], tree[offered]
        while here is not None:
            path.append(here)
            here = tree[here]
        return tuple(reversed(path))

    def standing_for(self, asked: P, on: datetime.date) -> set[P]:
        """Every part that may stand where the asked one was, without itself."""
        return set(self._tree(asked, on)) - {asked} if self.names(asked) else set()

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

    def names(self, part: P) -> bool:
        """Whether a part stands in any chain."""
        return part in self._forward or part in self._backward

    def newest(self, part: P, on: datetime.date) -> P:
        """The end of the chain on a day: what would be ordered today."""
        return self.path_to_newest(part, on)[-1]

    def path_to_newest(self, part: P, on: datetime.date) -> tuple[P, ...]:
        """The chain from a part to the newest on a day, both included. Where two replace one, the later link is
        taken."""
        path, seen = [part], {part}
        while True:
            steps = [one for one in self._forward.get(path[-1], ()) if one.new not in seen and one.holds(on)]
            if not steps:
                return tuple(path)
            part = max(steps, key=lambda one: (one.from_date, str(one.new))).new
            path.append(part)
            seen.add(part)

    def replaced_by(self, part: P) -> list[P]:
        """Everything that comes after a part in its chains, nearest first, whatever the day."""
        return [link.new for _, link in self.following(part)]

    def replaces(self, part: P) -> list[P]:
        """Everything that came before a part in its chains, nearest first, whatever the day."""
        return [link.old for _, link in self.preceding(part)]

    def following(self, part: P) -> list[tuple[int, Link[P]]]:
        """The links to everything that comes after a part, each with how many steps away it leads, nearest first."""
        return _reach(part, self._forward, lambda one: one.new)

    def preceding(self, part: P) -> list[tuple[int, Link[P]]]:
        """The links to everything that came before a part, each with how many steps away it leads, nearest first."""
        return _reach(part, self._backward, lambda one: one.old)

    def closes_a_cycle(self, added: Link[P]) -> bool:
        """Whether with a further link a chain would lead back to its beginning on some day."""
        if added.old == added.new:
            return True
        after = [added.new, *self.replaced_by(added.new)]
        if added.old not in after:
            return False
        # Links that all hold on some day all hold on the day on which the last of them begins.
        begins = {one.from_date for part in after for one in self._forward.get(part, ())} | {added.from_date}
        return any(added.holds(day) and self._leads(added.new, added.old, day) for day in begins)

    def _leads(self, start: P, end: P, on: datetime.date) -> bool:
        seen, waiting = {start}, deque([start])
        while waiting:
            for one in self._forward.get(waiting.popleft(), ()):
                if one.new not in seen and one.holds(on):
                    if one.new == end:
                        return True
                    seen.add(one.new)
                    waiting.append(one.new)
        return False

    def _tree(self, asked: P, on: datetime.date) -> dict[P, P | None]:
        """Every part that may stand for the asked one, each with the part over which it was reached."""
        found = self._trees.get((asked, on))
        if found is not None:
            return found
        tree: dict[P, P | None] = {asked: None}
        waiting = deque([asked])
        while waiting:
            part = waiting.popleft()
            steps = [one.new for one in self._forward.get(part, ()) if one.holds(on)]
            steps += [one.old for one in self._backward.get(part, ()) if one.both_ways and one.holds(on)]
            for step in steps:
                if step not in tree:
                    tree[step] = part
                    waiting.append(step)
        if self._remembered > MOST_REMEMBERED:
            self._forget()
        self._trees[asked, on] = tree
        self._remembered += len(tree)
        return tree

    def _forget(self) -> None:
        self._trees, self._remembered = {}, 0


def _reach(part: P, links: dict[P, list[Link[P]]], end: Callable[[Link[P]], P]) -> list[tuple[int, Link[P]]]:
    found: list[tuple[int, Link[P]]] = []
    seen, waiting = {part}, deque([(part, 0)])
    while waiting:
        here, steps = waiting.popleft()
        for one in links.get(here, ()):
            step = end(one)
            if step not in seen:
                seen.add(step)
                found.append((steps + 1, one))
                waiting.append((step, steps + 1))
    return found


def closes_a_cycle(links: Iterable[Link[P]], added: Link[P]) -> bool:
    """Whether a further link would lead a chain back to its beginning on some day."""
    return Supersessions(links).closes_a_cycle(added)
