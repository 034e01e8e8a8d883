"""The report on a file's rows: gathered while they are loaded, written when it is settled what stays."""

import uuid
from collections import Counter
from collections.abc import Sequence

import orjson

from services.api.loading import RowOutcome
from services.api.many_rows import copy_in
from services.bulk_loads.models import BulkLoadRow

COLUMNS = ("bulk_load_id", "row", "key", "outcome", "notes", "problems")
LONGEST_KEY = 200


class RowReport:
    """What became of each row of a load so far, in the form in which it will be written."""

    def __init__(self, load_id: uuid.UUID) -> None:
        self.load_id = load_id
        self.counts = dict.fromkeys(("created", "changed", "unchanged", "refused", "noted"), 0)
        self._rows: list[tuple[int, str, str, str, str]] = []

    def __len__(self) -> int:
        return len(self._rows)

    def add(self, outcomes: Sequence[RowOutcome]) -> None:
        """Take in what became of the next rows."""
        for one in outcomes:
            self._rows.append((one.number, one.key[:LONGEST_KEY], one.outcome, _json(one.notes), _json(one.problems)))
        for outcome, count in Counter(one.outcome for one in outcomes).items():
            self.counts[outcome] += count
        self.counts["noted"] += sum(1 for one in outcomes if one.notes)

    def write(self) -> None:
        """Put the report in the place of one that an earlier attempt may have left."""
        BulkLoadRow.objects.filter(bulk_load_id=self.load_id).delete()
        load_id = str(self.load_id)
        copy_in(BulkLoadRow._meta.db_table, COLUMNS, ((load_id, *row) for row in self._rows))


def _json(found: Sequence[object]) -> str:
    """Notes or problems, which are dataclasses, as JSON."""
    return orjson.dumps(found).decode() if found else "[]"
