"""Taking a file in, and loading it: recorded as background work, reported row by row."""

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from itertools import islice
from typing import Any

from django.db import DataError, IntegrityError, transaction

from services.api.loading import LoadKind, LoadRow, RowOutcome
from services.api.many_rows import uncollected
from services.api.problems import refusal_of
from services.bulk_loads.mappings import load_kind, reading_for
from services.bulk_loads.models import BulkLoad
from services.bulk_loads.reading import MEDIA_TYPES, Reading, ReadRow, look_through, read_rows
from services.bulk_loads.refusals import FileTooLarge, FileTypeUnsupported
from services.bulk_loads.reporting import RowReport
from services.identity.callers import Caller
from services.work.claiming import report_progress
from services.work.models import BackgroundRun
from services.work.progress import Progress
from services.work.recording import record_run

LARGEST = 50 * 1024 * 1024
LARGEST_DOCUMENT = 1024 * 1024
BATCH = 25_000
MOST_NOTES = 100
TASK = "services.bulk_loads.tasks.run_bulk_load"


@transaction.atomic(savepoint=False)
def take_file(
    *,
    by: Caller,
    kind: str,
    content: bytes,
    media_type: str,
    name: str = "",
    dry_run: bool = False,
    whole_or_nothing: bool = False,
    mapping: str = "",
    sheet: str = "",
) -> BulkLoad:
    """Keep a file and record the work of loading it, read after the mapping of that name where one is given.

    It is looked through here, so that one that cannot be read at all is refused at once. Raises `Malformed`,
    `FileUnreadable`, `FileTooLarge`, `FileTypeUnsupported`.
    """
    chosen = load_kind(kind)
    if media_type not in MEDIA_TYPES:
        raise FileTypeUnsupported(
            f"Content-Type {media_type[:40]!r} is not taken.", remedy=f"Send one of {', '.join(MEDIA_TYPES)}."
        )
    largest = LARGEST_DOCUMENT if chosen.accepts == "document" else LARGEST
    if len(content) > largest:
        raise FileTooLarge(
            f"The file has more than {largest} bytes.", remedy="Cut it into several files.", most_bytes=largest
        )
    reading = reading_for(chosen, mapping, sheet)
    rows, notes = look_through(chosen, content, media_type, reading)
    load_id = BulkLoad._meta.pk.get_default()
    run = record_run(TASK, by=by, arguments={"bulk_load": str(load_id)}, total=rows)
    if run is None:
        raise AssertionError("a run without a slot is always recorded")
    return BulkLoad.objects.create(
        id=load_id,
        kind=kind,
        name=name[:200],
        media_type=media_type,
        content=content,
        whole_or_nothing=whole_or_nothing,
        dry_run=dry_run,
        mapping=mapping,
        reading=asdict(reading),
        notes=notes[:MOST_NOTES],
        run_id=run,
    )


class _Undone(Exception):
    """Nothing of the load is to stay."""


def load_file(by: Caller | None, run: BackgroundRun) -> Mapping[str, Any]:
    """Load a kept file as the principal who handed it in, and report each row.

    A dry run, or a whole-or-nothing load with a refused row, leaves nothing but the report. To be run by
    `services.work.claiming.take_up`, in its transaction. Raises `LostClaim` between two batches once it is cancelled.
    """
    if by is None:
        raise ValueError("a file is loaded for somebody")
    load = BulkLoad.objects.select_for_update(no_key=True).get(pk=uuid.UUID(run.arguments["bulk_load"]))
    kind = load_kind(load.kind)
    rows = read_rows(kind, bytes(load.content), load.media_type, Reading(**load.reading))
    report = RowReport(load.pk)
    progress = Progress(run)
    try:
        with transaction.atomic(savepoint=True):
            for outcomes in load_rows(kind, by, rows):
                report.add(outcomes)
                progress.report(len(report))
            if load.dry_run or (load.whole_or_nothing and report.counts["refused"]):
                raise _Undone
    except _Undone:
        by.memo.clear()
    report.write()
    BulkLoad.objects.filter(pk=load.pk).update(**{f"{name}_rows": count for name, count in report.counts.items()})
    report_progress(run, len(report))
    return {"bulk_load": str(load.pk), **report.counts}


def load_rows(kind: LoadKind, by: Caller, rows: Iterator[ReadRow]) -> Iterator[list[RowOutcome]]:
    """Load rows batch by batch: what became of the rows of each, in their order. Must run inside a transaction."""
    refused: dict[int, RowOutcome] = {}
    while True:
        with uncollected():
            batch = list(islice(rows, BATCH))
            outcomes = _load(kind, by, batch, refused) if batch else None
        if outcomes is None:
            return
        yield outcomes


def _load(kind: LoadKind, by: Caller, batch: Sequence[ReadRow], refused: dict[int, RowOutcome]) -> list[RowOutcome]:
    """What became of a batch; ``refused`` collects refusals by row, since a later row may repeat one of these."""
    readable = [one.row for one in batch if not one.problems and one.repeats is None]
    done = {one.number: one for one in _load_rows(kind, by, readable)}
    outcomes = []
    for one in batch:
        if one.problems:
            outcome = one.refused()
        elif one.repeats is not None:
            first = done.get(one.repeats) or refused.get(one.repeats)
            outcome = one.repeated(first)
        else:
            outcome = done[one.row.number]
            outcome.notes = [*one.notes, *outcome.notes]
        if outcome.outcome == "refused":
            refused[outcome.number] = outcome
        outcomes.append(outcome)
    return outcomes


def _load_rows(kind: LoadKind, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """All at once; where the database refuses what the loader did not foresee, half by half down to the row."""
    if not rows:
        return []
    try:
        with transaction.atomic(savepoint=True):
            return kind.run(by=by, rows=rows)
    except (IntegrityError, DataError) as error:
        half = len(rows) // 2
        if half:
            return [*_load_rows(kind, by, rows[:half]), *_load_rows(kind, by, rows[half:])]
        refusal = refusal_of(error)
        if refusal is None:
            raise
        return [RowOutcome.refused(rows[0], "", "", refusal.detail, refusal.remedy)]
