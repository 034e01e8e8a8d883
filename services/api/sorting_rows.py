"""Sorting the rows of a file into what is new, what is changed and what is there already."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from services.api.loading import LoadRow, RowNote, RowOutcome

Thing = TypeVar("Thing")
Figures = Mapping[str, Any]


class SortedRows(Generic[Thing]):
    """What rows of a file bring, by the key they share with what is kept.

    A row whose key is known, from the database or from an earlier row of the file, changes that thing or leaves it as
    it is; ``fresh`` and ``changed`` hold each thing once, with the figures of the last row.
    """

    def __init__(self, known: dict[Any, Thing]) -> None:
        self.known = known
        self.fresh: list[Thing] = []
        self.changed: list[Thing] = []
        self._met: set[int] = set()

    def would_change(self, key: Hashable, figures: Figures, within: Mapping[str, Figures] | None = None) -> bool:
        """Whether a row with these figures, taken, would make or change anything; see `take`."""
        old = self.known.get(key)
        return old is None or _differ(old, figures, within)

    def take(
        self,
        row: LoadRow,
        name: str,
        key: Hashable,
        figures: Figures,
        make: Callable[[], Thing],
        notes: Sequence[RowNote] = (),
        within: Mapping[str, Figures] | None = None,
    ) -> RowOutcome:
        """Take one row: ``name`` is what its report calls it; ``make`` gives a new thing with these figures.
        ``within`` holds figures of things that belong to it, by the attribute under which they are reached."""
        old = self.known.get(key)
        if old is None:
            self.known[key] = made = make()
            self._met.add(id(made))
            self.fresh.append(made)
            return RowOutcome(row.number, name, "created", list(notes))
        if not _differ(old, figures, within):
            return RowOutcome(row.number, name, "unchanged", list(notes))
        for thing, some in _with_figures(old, figures, within):
            for attribute, value in some.items():
                setattr(thing, attribute, value)
        if id(old) not in self._met:
            self._met.add(id(old))
            self.changed.append(old)
        return RowOutcome(row.number, name, "changed", list(notes))


def _with_figures(old: Any, figures: Figures, within: Mapping[str, Figures] | None) -> list[tuple[Any, Figures]]:
    return [(old, figures), *((getattr(old, name), some) for name, some in (within or {}).items())]


def _differ(old: Any, figures: Figures, within: Mapping[str, Figures] | None) -> bool:
    return any(
        getattr(thing, name) != value
        for thing, some in _with_figures(old, figures, within)
        for name, value in some.items()
    )
