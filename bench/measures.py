"""What is measured, and against which floor.

A floor is the least that could be done with the same database in the same process: one statement by psycopg, without
gate, lock, calculation, record of the change or paging. A ratio says what all of that costs.
"""

import datetime
import itertools
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any
from uuid import UUID

import orjson
from django.db import connection, transaction
from django.utils import timezone
from rest_framework.test import APIClient

from assets.models import Pump, Site
from bench.catalogue_data import BEFORE_PUMPS, CatalogueSize, make_catalogue
from bench.loading_pumps import loading_pumps
from bench.operator_data import caller
from bench.timing import Comparison, compare
from kits.models import FitMark, FitResult, Kit, Movement, Part
from kits.operations.fit import compute_marked
from kits.operations.stock_entries import StockEntry, record_entry
from services.api.loading import known_loads
from services.bulk_loads.reading import CSV, read_file

PARTS_A_FILE = 1000


def fetch(statement: str, *values: UUID | str) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return cursor.fetchall()


def measures_of_the_operator(tokens: dict[str, str]) -> Iterator[Comparison]:
    """Each measure in turn, on the loaded operator."""
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {tokens['erp-link']}")
    yield page_of_pumps(client)
    yield deep_page(client)
    yield fits_of_a_pump(client)
    yield computing_fits()
    yield posting_a_receipt()
    yield loading_parts()


def measures_of_a_large_catalogue() -> Iterator[Comparison]:
    """Each measure in turn, beside the operator's own things; the catalogue is made only once."""
    by, size = caller("erp-link"), CatalogueSize()
    make_catalogue(by, size, BEFORE_PUMPS)
    yield loading_pumps(by, size)


def page_of_pumps(client: APIClient) -> Comparison:
    def ours(_: int) -> None:
        found = len(_read(client, "/api/v1/pumps?limit=100")["results"])
        assert found == 100, found

    def floor(_: int) -> None:
        rows = fetch("SELECT * FROM assets_pump p JOIN assets_site s ON s.id = p.site_id ORDER BY p.id LIMIT 100")
        orjson.dumps([[str(cell) for cell in row] for row in rows])

    return compare(
        "A page of 100 pumps over the API", ours, floor,
        floor_words="one SELECT of the same rows, dumped as JSON", unit="pages", turns=30,
    )  # fmt: skip


def deep_page(client: APIClient) -> Comparison:
    """The floor is our own first page: with keyset paging the last page costs the same."""
    first = "/api/v1/stock-movements?limit=50"
    address, before = first, first
    for _ in range(40):
        following = _read(client, address)["next"]
        if following is None:
            break
        before, address = address, following

    def page(place: str) -> Callable[[int], None]:
        def read(_: int) -> None:
            assert len(_read(client, place)["results"]) == 50

        return read

    return compare(
        "Page 40 of the movements", page(before), page(first),
        floor_words="page 1 of the movements", unit="pages", turns=30,
    )  # fmt: skip


def fits_of_a_pump(client: APIClient) -> Comparison:
    pump = Pump.objects.get(tag="P-117")

    def ours(_: int) -> None:
        assert _read(client, f"/api/v1/pumps/{pump.pk}/fits")["kits"]

    def floor(_: int) -> None:
        rows = fetch(
            "SELECT i.number, f.verdict, f.matched, f.asked FROM kits_fitresult f JOIN kits_item i ON i.id = f.kit_id"
            " WHERE f.build_class_id = %s",
            str(pump.build_class_id),
        )
        orjson.dumps(rows)

    return compare(
        "Which kits fit P-117, with reasons", ours, floor,
        floor_words="one SELECT of the stored verdicts, dumped as JSON", unit="answers", turns=30,
    )  # fmt: skip


def computing_fits() -> Comparison:
    """All released kits against all build classes, from marks to stored verdicts."""
    kits = list(Kit.objects.filter(state="released").values_list("pk", flat=True))
    stored = FitResult.objects.count()

    def ours(_: int) -> None:
        FitMark.objects.bulk_create([FitMark(kit_id=kit) for kit in kits], ignore_conflicts=True)
        while compute_marked(limit=500):
            continue
        assert FitResult.objects.count() == stored

    def floor(_: int) -> None:
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            cursor.execute("CREATE TEMP TABLE verdicts (LIKE kits_fitresult INCLUDING INDEXES) ON COMMIT DROP")
            cursor.execute("INSERT INTO verdicts SELECT * FROM kits_fitresult")

    return compare(
        f"Computing all fits ({len(kits)} kits, {stored} verdicts stored)", ours, floor,
        floor_words="INSERT .. SELECT of the same verdicts", unit="kits", per_turn=len(kits), turns=7,
    )  # fmt: skip


def posting_a_receipt() -> Comparison:
    by = caller("erp-link")
    site = Site.objects.order_by("code")[0]
    part = Part.objects.exclude(category__in=["o-ring", "lip-seal"]).select_related("item").order_by("item__number")[0]
    kept = Movement.objects.count()
    _floor_tables()

    def ours(turn: int) -> None:
        record_entry(
            by=by,
            entry=StockEntry(
                kind="receipt", site_id=site.pk, item_id=part.pk, lot=f"BENCH-{turn}", quantity=Decimal(1),
                occurred_at=timezone.now() - datetime.timedelta(seconds=1),
            ),
        )  # fmt: skip

    def floor(_: int) -> None:
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            cursor.execute("INSERT INTO bench_movement SELECT * FROM kits_movement LIMIT 1")
            cursor.execute("UPDATE bench_balance SET on_hand = on_hand + 1")

    found = compare(
        "Posting one receipt to the ledger", ours, floor,
        floor_words="one INSERT and one UPDATE in a transaction", unit="receipts", turns=100,
    )  # fmt: skip
    assert Movement.objects.count() == kept + 101
    return found


def _floor_tables() -> None:
    with connection.cursor() as cursor:
        cursor.execute("CREATE TEMP TABLE bench_movement (LIKE kits_movement)")
        cursor.execute("CREATE TEMP TABLE bench_balance AS SELECT * FROM kits_balance LIMIT 1")


def loading_parts() -> Comparison:
    """A CSV file of new parts: read, checked by their specification, written, the change recorded."""
    kind, by = known_loads()["parts"], caller("erp-link")
    fields = ("external_id", "number", "name", "category", "specification", "unit", "cost", "currency")
    kinds = ["6208", "6308-2Z", "7208", "6208-2RS C3"]

    def content(turn: int) -> bytes:
        numbers = [f"{turn}-{place}" for place in range(PARTS_A_FILE)]
        rows = [
            f"bench-{number},B-{number},Bearing,rolling-bearing,{kind_of_bearing},piece,12.50,EUR"
            for number, kind_of_bearing in zip(numbers, itertools.cycle(kinds), strict=False)
        ]
        return "\n".join([",".join(fields), *rows]).encode()

    def ours(turn: int) -> None:
        read = read_file(kind, content(turn), CSV)
        assert not [one for one in read if one.problems]
        with transaction.atomic(savepoint=False):
            outcomes = kind.run(by=by, rows=[one.row for one in read])
        assert {one.outcome for one in outcomes} == {"created"}

    def floor(turn: int) -> None:
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            columns = ", ".join(f"{one} text" for one in fields)
            cursor.execute(f"CREATE TEMP TABLE bench_parts ({columns}) ON COMMIT DROP")
            with cursor.copy("COPY bench_parts FROM STDIN (FORMAT csv, HEADER)") as copy:
                copy.write(content(turn))

    return compare(
        f"Loading a file of {PARTS_A_FILE} new parts", ours, floor,
        floor_words="COPY of the same file into a bare table", unit="rows", per_turn=PARTS_A_FILE, turns=5,
    )  # fmt: skip


def _read(client: APIClient, address: str) -> Any:
    answer = client.get(address)
    assert answer.status_code == 200, answer.content
    return answer.json()
