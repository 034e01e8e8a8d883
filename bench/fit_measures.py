"""Fits on a large catalogue: computed as a whole, after one edit, and asked for one pump.

The floor of computing is the best single join that finds and writes about the same pairs: no quantities, alternatives,
scopes or materials, no numbers, chains of supersession, variants or serial numbers, only keys of specifications that
are equal, which stand ready in an index. The floor of asking is
the smallest WSGI application that runs the same queries and the same calculation.
"""

import datetime
import resource
import statistics
import time
import uuid
from collections.abc import Callable, Iterator

import orjson
from django.db import connection, transaction
from django.utils import timezone
from rest_framework.test import APIClient

from assets.models import BuildClass, Pump
from bench.fit_data import make_fit_catalogue
from bench.operator_data import caller
from bench.timing import Comparison, compare
from kits.models import FitMark, FitResult, Kit
from kits.operations.fit import compute_marked, mark_everything
from kits.queries.fit import fits_of_pump
from services.api.rendering import to_json

# Somebody who may see every site of the operator.
EVERYWHERE = "erp-link"

FLOOR_TABLE = "CREATE TABLE bench_fit (LIKE kits_fitresult INCLUDING ALL)"
FLOOR = """
INSERT INTO bench_fit (build_class_id, kit_id, verdict, matched, asked, declared, kit_seen, class_seen, computed_at)
SELECT c.id, served.kit_id, 'fits', served.matched, served.matched, false, 0, 0, now()
FROM (
    SELECT a.pump_model_id, l.kit_id, count(*) AS matched FROM kits_askedkey a
        JOIN kits_offeredkey o ON o.specification = a.specification AND o.specification <> ''
        JOIN kits_kitline l ON l.part_id = o.part_id AND l.role = a.role
        JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
        GROUP BY 1, 2
) served JOIN assets_buildclass c ON c.pump_model_id = served.pump_model_id
"""


def measures_of_fits(tokens: dict[str, str]) -> Iterator[Comparison]:
    """Each measure in turn, on a large catalogue made for them."""
    make_fit_catalogue()
    yield rebuilding()
    yield after_one_edit()
    yield one_pump(tokens)


def rebuilding(turns: int = 1) -> Comparison:
    """Every kit against every build class, from marks to stored verdicts, into an empty table."""
    ours, floor = [], []
    _drain()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    for _ in range(turns):
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            cursor.execute("DROP TABLE IF EXISTS bench_fit")
            cursor.execute(FLOOR_TABLE)
        floor.append(_timed(_write_floor))
        with connection.cursor() as cursor:
            cursor.execute("TRUNCATE kits_fitresult")
        mark_everything()
        ours.append(_timed(_drain))
    pairs = FitResult.objects.count()
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM bench_fit")
        of_floor = cursor.fetchone()[0]
        cursor.execute("ANALYZE kits_fitresult")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return Comparison(
        name=f"Computing all fits of {Kit.objects.filter(state='released').count()} kits and "
        f"{BuildClass.objects.count()} build classes ({pairs} verdicts), process at most {memory:.0f} MB",
        floor=f"the best single join that finds and writes such pairs ({of_floor})",
        unit="verdicts",
        per_turn=pairs,
        seconds=statistics.median(ours),
        floor_seconds=statistics.median(floor),
    )


def _write_floor() -> None:
    with transaction.atomic(savepoint=False), connection.cursor() as cursor:
        cursor.execute(FLOOR)


def _drain() -> None:
    while compute_marked(limit=1_000_000):
        continue


def _timed(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def after_one_edit() -> Comparison:
    """From the change of one released kit's scope and back until its fits are current."""
    kits = list(Kit.objects.filter(item__number__startswith="LK-").order_by("item__number")[:1200:60])

    def ours(turn: int) -> None:
        FitMark.objects.bulk_create([FitMark(kit=kits[turn])])
        _drain()

    def floor(turn: int) -> None:
        with connection.cursor() as cursor:
            cursor.execute("UPDATE kits_fitresult SET computed_at = now() WHERE kit_id = %s", [kits[turn].pk])

    return compare(
        "One kit of them changed, until its fits are stored", ours, floor,
        floor_words="one UPDATE of its stored verdicts", unit="kits", turns=15,
    )  # fmt: skip


def one_pump(tokens: dict[str, str]) -> Comparison:
    """The best twenty kits for a pump with reasons, against the smallest WSGI application with the same inside."""
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {tokens[EVERYWHERE]}")
    pumps = list(Pump.objects.filter(tag__startswith="L-").order_by("tag")[:20_000:600])
    application, today = SmallestApplication(), timezone.now().date()

    def ours(turn: int) -> None:
        answer = client.get(f"/api/v1/pumps/{pumps[turn].pk}/fits")
        assert answer.status_code == 200, answer.content
        assert len(answer.json()["kits"]) == 20

    def floor(turn: int) -> None:
        orjson.loads(application(pumps[turn].pk, today))

    return compare(
        "The best 20 kits for one pump of 100,000, with reasons, over the API", ours, floor,
        floor_words="the same queries and calculation in the smallest WSGI application", unit="answers", turns=30,
    )  # fmt: skip


class SmallestApplication:
    """What a WSGI application comes to that does nothing but this: no framework, no gate but the queries' own."""

    def __call__(self, pump_id: uuid.UUID, on: datetime.date) -> bytes:
        started: list[str] = []
        environ = {"PATH_INFO": f"/fits/{pump_id}", "QUERY_STRING": f"on={on}"}
        return b"".join(self.answer(environ, lambda status, _: started.append(status)))

    def answer(self, environ: dict[str, str], start: Callable[[str, list[tuple[str, str]]], object]) -> list[bytes]:
        pump = uuid.UUID(environ["PATH_INFO"].rpartition("/")[2])
        on = datetime.date.fromisoformat(environ["QUERY_STRING"].removeprefix("on="))
        body = to_json(fits_of_pump(by=caller(EVERYWHERE), pump_id=pump, on=on))
        start("200 OK", [("Content-Type", "application/json")])
        return [body]
