"""Writing to the ledger with eight clients, and sixty-four that reserve of one lot.

The floors are the same rows written by bare statements, once into tables with the same indexes and checks and no
triggers, once with the triggers too; and one UPDATE of one row by pgbench. Run with ``services.embedded run
--durable``, so that a commit is on disk before it is answered.
"""

import datetime
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from assets.models import Site
from bench.clients import done_in
from bench.operator_data import caller
from bench.timing import Comparison, median
from kits.models import Allocation, Balance, Item, Movement, Part, Reservation
from kits.operations.lots import ensure_lot
from kits.operations.movements import Entry, post_movements
from kits.queries.movements import ledger_differences
from services.api.many_rows import insert_many
from services.embedded.places import wheel_binaries

SECONDS, ROUNDS = 4.0, 3
LOGIN = "erp-link"
HANDS = 64
CLAIMS_A_HAND = 120
FLOOR_TABLES = """
DROP TABLE IF EXISTS bench_movement, bench_change, bench_balance, guarded_movement, guarded_change;
CREATE TABLE bench_movement (LIKE kits_movement INCLUDING ALL);
CREATE TABLE bench_change (LIKE changes_change INCLUDING ALL);
CREATE TABLE guarded_movement (LIKE kits_movement INCLUDING ALL);
CREATE TABLE guarded_change (LIKE changes_change INCLUDING ALL);
CREATE TABLE bench_balance (client integer PRIMARY KEY, on_hand numeric(12, 3) NOT NULL CHECK (on_hand >= 0));
INSERT INTO bench_balance SELECT client, 0 FROM generate_series(0, 63) AS client;
"""
TRIGGERS = """
SELECT pg_get_triggerdef(t.oid) FROM pg_trigger t WHERE t.tgrelid = %s::regclass AND NOT t.tgisinternal
"""
FOREIGN_KEYS = (
    "SELECT conname, pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid = %s::regclass AND contype = 'f'"
)


def measures_of_the_ledger() -> Iterator[Comparison]:
    """Each measure in turn."""
    yield from posting_with_eight_clients()
    yield reserving_of_one_lot()


def address() -> str:
    """The measure's database for a bare connection."""
    there = connection.settings_dict
    return f"host={there['HOST']} port={there['PORT'] or 5432} user={there['USER']} dbname={there['NAME']}"


def posting_with_eight_clients() -> Iterator[Comparison]:
    by, site = caller(LOGIN), Site.objects.order_by("code")[0]
    part = Part.objects.exclude(category__in=["o-ring", "lip-seal"]).select_related("item").order_by("item__number")[0]
    _floor_tables()
    arguments: dict[str, Any] = {
        "database": connection.settings_dict["NAME"], "address": address(), "login": LOGIN, "site": str(site.pk),
        "item": str(part.pk), "movement": str(Movement.objects.order_by("id")[0].pk),
    }  # fmt: skip
    with transaction.atomic(savepoint=False):
        for number in range(8):
            ensure_lot(by=by, item_id=part.pk, number=f"BENCH-{number}", received_on=timezone.now().date())
    bare = {"tables": ("bench_movement", "bench_change")}
    guarded = {"tables": ("guarded_movement", "guarded_change")}
    rates = in_turns(
        {
            "ours": lambda: _rate("receiving", arguments, 2, 4),
            "bare": lambda: _rate("inserting", arguments | bare, 2, 4),
            "guarded": lambda: _rate("inserting", arguments | guarded, 2, 4),
        }
    )
    assert ledger_differences() == []
    for side, words in (("bare", "no triggers and foreign keys"), ("guarded", "the same triggers and foreign keys")):
        yield Comparison(
            name="Receipts recorded by 8 clients at once, durable",
            floor=f"the movement, balance and change by psycopg, same indexes and checks, {words}",
            unit="receipts", per_turn=1, seconds=1 / rates["ours"], floor_seconds=1 / rates[side],
        )  # fmt: skip


def _rate(doing: str, arguments: dict[str, Any], processes: int, threads: int, seconds: float = SECONDS) -> float:
    what = f"bench.ledger_clients:{doing}"
    return done_in(seconds, what, arguments, processes=processes, threads=threads) / seconds


def in_turns(sides: dict[str, Callable[[], float]]) -> dict[str, float]:
    """The median of each side over rounds in which each has its turn."""
    found: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(ROUNDS):
        for name, measure in sides.items():
            found[name].append(measure())
    return {name: median(rates) for name, rates in found.items()}


def _floor_tables() -> None:
    with connection.cursor() as cursor:
        cursor.execute(FLOOR_TABLES)
        for guarded, kept in (("guarded_movement", "kits_movement"), ("guarded_change", "changes_change")):
            cursor.execute(TRIGGERS, [kept])
            for (definition,) in cursor.fetchall():
                cursor.execute(definition.replace(f"public.{kept}", guarded).replace(f" ON {kept} ", f" ON {guarded} "))
            cursor.execute(FOREIGN_KEYS, [kept])
            for name, definition in cursor.fetchall():
                cursor.execute(f"ALTER TABLE {guarded} ADD CONSTRAINT {name} {definition}")


def reserving_of_one_lot() -> Comparison:
    """Exact: afterwards as much of the lot is reserved as claims say."""
    site = Site.objects.order_by("code")[0]
    item = Item.objects.create(kind="part", number="BENCH-HOT", name="Bench", cost=Decimal(1), currency="EUR")
    Part.objects.create(item=item, category="other", specification={"category": "other"})
    by, today = caller(LOGIN), timezone.now().date()
    with transaction.atomic(savepoint=False):
        lot = ensure_lot(by=by, item_id=item.pk, number="HOT", received_on=today)
        entry = Entry("receipt", site.pk, item.pk, lot.pk, Decimal(10**6), timezone.now())
        post_movements(by=by, entries=[entry])
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE IF EXISTS bench_hot; CREATE TABLE bench_hot (LIKE kits_balance INCLUDING ALL)")
        cursor.execute("INSERT INTO bench_hot SELECT * FROM kits_balance WHERE item_id = %s", [item.pk])
    seconds = 3.0
    rates = in_turns(
        {
            "ours": lambda: _rate("reserving", _claims(by.id, site.pk, item.pk), 4, HANDS // 4, seconds),
            "floor": lambda: _pgbench(seconds),
        }
    )
    hard = Reservation.objects.filter(item=item, state="hard").count()
    assert Balance.objects.get(item=item).reserved == hard
    assert Allocation.objects.filter(reservation__item=item).count() == hard
    assert ledger_differences() == []
    return Comparison(
        name=f"Reservations of one lot by {HANDS} clients at once, durable, exact",
        floor="one UPDATE of one row by pgbench with as many clients",
        unit="reservations", per_turn=1, seconds=1 / rates["ours"], floor_seconds=1 / rates["floor"],
    )  # fmt: skip


def _claims(by_id: uuid.UUID, site_id: uuid.UUID, item_id: uuid.UUID) -> dict[str, Any]:
    day = timezone.now().date() + datetime.timedelta(days=3)
    made = [
        Reservation(
            job_id=uuid.uuid4(), job_number=f"BENCH-{number}", site_id=site_id, item_id=item_id, quantity=1,
            need_date=day, by_id=by_id,
        )
        for number in range(HANDS * CLAIMS_A_HAND)
    ]  # fmt: skip
    with transaction.atomic(savepoint=False):
        insert_many(made)
    claims = [[str(one.pk) for one in made[hand::HANDS]] for hand in range(HANDS)]
    return {"database": connection.settings_dict["NAME"], "login": LOGIN, "claims": claims}


def _pgbench(seconds: float) -> float:
    """Updates in a second."""
    there = connection.settings_dict
    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "reserve.sql"
        script.write_text("UPDATE bench_hot SET reserved = reserved + 1 WHERE on_hand - reserved >= 1;\n")
        done = subprocess.run(
            [
                str(wheel_binaries()[0] / "bin" / "pgbench"), "--no-vacuum", f"--client={HANDS}", "--jobs=2",
                f"--time={seconds:.0f}", "--protocol=prepared", f"--file={script}", f"--host={there['HOST']}",
                f"--port={there['PORT'] or 5432}", f"--username={there['USER']}", str(there["NAME"]),
            ],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
    line = next(line for line in done.stdout.splitlines() if line.startswith("tps = "))
    return float(line.split()[2])
