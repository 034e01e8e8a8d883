"""Loading a file from where the service runs: recorded like any other load, done here, watched and stopped."""

import threading
import time
from collections.abc import Callable
from pathlib import Path

from django.db import connection, transaction

from services.api.loading import RowProblem
from services.bulk_loads.models import BulkLoad, BulkLoadRow
from services.bulk_loads.operations import load_file, take_file
from services.bulk_loads.reading import CSV, JSON, NDJSON, XLSX, YAML
from services.bulk_loads.refusals import FileTypeUnsupported
from services.identity.callers import Caller
from services.work.claiming import take_up
from services.work.models import BackgroundRun
from services.work.operations import cancel_run

SUFFIXES = {
    ".csv": CSV, ".tsv": CSV, ".txt": CSV, ".xlsx": XLSX, ".ndjson": NDJSON, ".jsonl": NDJSON, ".json": JSON,
    ".yaml": YAML, ".yml": YAML,
}  # fmt: skip
ENDED = ("done", "failed", "cancelled")
BETWEEN_LOOKS = 0.2

Watch = Callable[[int, int | None], None]


def load_here(
    *,
    by: Caller,
    kind: str,
    path: Path,
    mapping: str = "",
    sheet: str = "",
    dry_run: bool = False,
    whole_or_nothing: bool = False,
    watch: Watch = lambda done, total: None,
) -> BulkLoad:
    """Hand a file in and load it, telling ``watch`` how many rows are done and how many there are.

    Whatever stops it from outside (`KeyboardInterrupt`) cancels the load, so nothing of it stays, and is raised again.
    Raises what `take_file` raises, and whatever unforeseen fault the load ends with.
    """
    media_type = SUFFIXES.get(path.suffix.lower())
    if media_type is None:
        raise FileTypeUnsupported(
            f"{path.name} ends with none of {', '.join(SUFFIXES)}.", remedy="Name the file for what it is."
        )
    content = path.read_bytes()
    with transaction.atomic(durable=True):
        load = take_file(
            by=by,
            kind=kind,
            content=content,
            media_type=media_type,
            name=path.name,
            dry_run=dry_run,
            whole_or_nothing=whole_or_nothing,
            mapping=mapping,
            sheet=sheet,
        )
    worker = _Worker(load)
    worker.start()
    try:
        _look_on(worker, load, watch)
    except BaseException:
        _stop(by, load)
        worker.join()
        raise
    if worker.fault is not None:
        _stop(by, load)
        raise worker.fault
    return BulkLoad.objects.select_related("run").get(pk=load.pk)


class _Worker(threading.Thread):
    """The load, beside whoever looks on. A worker of the service that was quicker is no fault."""

    def __init__(self, load: BulkLoad) -> None:
        super().__init__(name=f"load {load.name}")
        self._run = load.run_id
        self.fault: Exception | None = None

    def run(self) -> None:
        try:
            take_up(self._run, load_file)
        except Exception as fault:  # noqa: BLE001 - raised again by whoever looks on
            self.fault = fault
        finally:
            connection.close()


def _look_on(worker: threading.Thread, load: BulkLoad, watch: Watch) -> None:
    while True:
        at_work = worker.is_alive()
        state, done, total = BackgroundRun.objects.values_list("state", "progress_done", "progress_total").get(
            pk=load.run_id
        )
        watch(done, total)
        if not at_work and (state in ENDED or getattr(worker, "fault", None) is not None):
            return
        time.sleep(BETWEEN_LOOKS)


def _stop(by: Caller, load: BulkLoad) -> None:
    if BackgroundRun.objects.filter(pk=load.run_id, state__in=["queued", "running"]).exists():
        cancel_run(by=by, run_id=load.run_id)


def first_problems(load: BulkLoad, most: int) -> list[tuple[int, RowProblem]]:
    """(row, problem) of the first refused rows."""
    refused = BulkLoadRow.objects.filter(bulk_load=load, outcome="refused").order_by("row")
    found = [
        (row, RowProblem(**one)) for row, problems in refused.values_list("row", "problems")[:most] for one in problems
    ]
    return found[:most]
