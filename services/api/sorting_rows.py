"""Sorting the rows of a file into what is new, what is changed and what is there already."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from typing import Any, Generic, TypeVar

from django.db.models import Model

from services.api.loading import LoadRow, RowNote, RowOutcome
from services.api.many_rows import insert_many, update_many

Thing = TypeVar("Thing")
M = TypeVar("M", bound=Model)


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

    def take(
        self,
        row: LoadRow,
        name: str,
        key: Hashable,
        figures: Mapping[str, Any],
        make: Callable[[], Thing],
        notes: Sequence[RowNote] = (),
    ) -> RowOutcome:
        """Take one row: ``name`` is what its report calls it; ``make`` gives a new thing with these figures."""
        old = self.known.get(key)
        if old is None:
            self.known[key] = made = make()
            self._met.add(id(made))
            self.fresh.append(made)
            return RowOutcome(row.number, name, "created", list(notes))
        if not differs(old, figures):
            return RowOutcome(row.number, name, "unchanged", list(notes))
        for attribute, value in figures.items():
            setattr(old, attribute, value)
        if id(old) not in self._met:
            self._met.add(id(old))
            self.changed.append(old)
        return RowOutcome(row.number, name, "changed", list(notes))


def write_sorted(rows: SortedRows[M], fields: Sequence[str]) -> dict[Any, int]:
    """Insert what is new, update ``fields`` of what is changed. Versions of the changed as the database raised them,
    by id."""
    insert_many(rows.fresh)
    return update_many(rows.changed, fields)


def differs(kept: Any, figures: Mapping[str, Any]) -> bool:
    """Whether some figure is not what is kept."""
    return any(getattr(kept, name) != value for name, value in figures.items())
