"""Loading a large file of pumps, and what the worker needs of memory meanwhile."""

import gc
import os
import statistics
import subprocess
import sys
import time
import uuid
from collections.abc import Callable
from functools import partial
from urllib.parse import urlsplit, urlunsplit

from django.db import connection, transaction

from assets.models import Pump
from bench.catalogue_data import CatalogueSize, pumps, written
from bench.timing import Comparison
from services.bulk_loads.models import BulkLoad
from services.bulk_loads.operations import take_file
from services.bulk_loads.reading import CSV
from services.bulk_loads.tasks import run_bulk_load
from services.identity.callers import Caller
from services.settings import environment

TURNS = 2
OURS = "external_ids ->> 'file' LIKE 'works-pump-%'"


def loading_pumps(by: Caller, size: CatalogueSize, *, turns: int = TURNS) -> Comparison:
    """From the bytes of a kept file to the last committed row, against COPY of the same rows, ready as text, into a
    bare table with the indexes, checks and foreign keys of the pumps. The pumps of the last turn stay."""
    content = written(pumps(size))
    memory = _in_a_worker(_kept(by, content))
    taken: dict[str, list[float]] = {"ours": [], "floor": []}
    for _ in range(turns):
        typed = _take_out()
        _floor_table()
        gc.collect()
        taken["floor"].append(_timed(partial(_copy_in, typed)))
        _run("DROP TABLE bench_pump")
        run = _kept(by, content)
        gc.collect()
        taken["ours"].append(_timed(partial(run_bulk_load, str(run))))
        load = BulkLoad.objects.get(run_id=run)
        assert load.created_rows == size.pumps == load.rows.count(), load.run.last_error
    classes = Pump.objects.filter(external_ids__file__startswith="works-pump-").values("build_class").distinct().count()
    return Comparison(
        name=f"Loading a file of {size.pumps} new pumps of {size.models} models, {classes} build classes, "
        f"worker at most {memory:.0f} MB",
        floor="COPY of the same typed rows into a bare table with the same indexes and constraints",
        unit="rows",
        per_turn=size.pumps,
        seconds=statistics.median(taken["ours"]),
        floor_seconds=statistics.median(taken["floor"]),
    )


def _kept(by: Caller, content: bytes) -> uuid.UUID:
    return take_file(by=by, kind="pumps", content=content, media_type=CSV).run_id


def _in_a_worker(run: uuid.UUID) -> float:
    """Do the run in a process of its own; the most memory it held, in MB."""
    place = urlsplit(environment.migration_database_url())
    address = urlunsplit(place._replace(path=f"/{connection.settings_dict['NAME']}"))
    done = subprocess.run(
        [sys.executable, "-m", "bench.worker_memory", str(run)],
        check=True, capture_output=True, text=True,
        env={**os.environ, "DATABASE_URL": address, "MIGRATION_DATABASE_URL": address},
    )  # fmt: skip
    assert BulkLoad.objects.get(run_id=run).created_rows, done.stderr
    return float(done.stdout.split()[-1])


def _timed(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def _take_out() -> bytes:
    """The pumps of the file as COPY writes them; they are deleted."""
    with connection.cursor() as cursor:
        with cursor.copy(f"COPY (SELECT * FROM assets_pump WHERE {OURS} ORDER BY id) TO STDOUT") as copy:
            rows = b"".join(bytes(one) for one in copy)
        cursor.execute(f"DELETE FROM assets_pump WHERE {OURS}")
        cursor.execute("VACUUM ANALYZE assets_pump")
    return rows


def _floor_table() -> None:
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE bench_pump (LIKE assets_pump INCLUDING ALL)")
        cursor.execute(
            "SELECT pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = 'assets_pump'::regclass "
            "AND contype = 'f'"
        )
        for (definition,) in cursor.fetchall():
            cursor.execute(f"ALTER TABLE bench_pump ADD {definition}")


def _copy_in(rows: bytes) -> None:
    with (
        transaction.atomic(savepoint=False),
        connection.cursor() as cursor,
        cursor.copy("COPY bench_pump FROM STDIN") as copy,
    ):
        copy.write(rows)


def _run(statement: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)
