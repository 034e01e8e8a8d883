"""A night's replenishment of many items at many sites, against the pure arrays and COPY of the same rows.

The floor reads the rows that a run has to look at as they stand in their tables, forecasts and sets levels on a table
of demand that is there already, and writes the levels, proposals and changes that the run wrote into tables with the
same columns, constraints and indexes, all by COPY.
"""

import io
import os
import subprocess
import sys
import uuid
from collections.abc import Iterator
from dataclasses import replace
from urllib.parse import urlsplit, urlunsplit

import numpy as np
from django.conf import settings
from django.db import connection, transaction
from django.utils import timezone

from assets.models import Site
from bench.operator_data import caller
from bench.stocked_sites import stock_sites
from bench.timing import Comparison, compare
from kits.calculations.forecast_arrays import forecast_all
from kits.calculations.reorder_arrays import period_moments, reorder_levels
from kits.operations.replenishment import replenish_site
from services.settings import environment

SIZES = {"10k": 10_000, "50k": 50_000, "250k": 250_000}
TODAY = timezone.now().date()
READ = {
    "kits_movement": "SELECT item_id, kind, quantity, occurred_at, job_id, reverses_id FROM kits_movement "
    "WHERE site_id = '{site}' AND condition = 'usable'",
    "kits_balance": "SELECT item_id, lot_id, on_hand, reserved FROM kits_balance WHERE site_id = '{site}'",
    "kits_reservation": "SELECT item_id, job_id, need_date, created_at FROM kits_reservation WHERE site_id = '{site}'",
    "kits_supplierterms": "SELECT item_id, supplier_id, lead_time_days, price FROM kits_supplierterms",
}
WRITTEN = {
    "kits_replenishmentlevel": "SELECT * FROM kits_replenishmentlevel",
    "kits_proposal": "SELECT * FROM kits_proposal",
    "changes_change": "SELECT c.* FROM changes_change c JOIN kits_proposal p ON p.id = c.noun_id",
}


def measures_of_replenishment(pairs: int) -> Iterator[Comparison]:
    """The first night and the next one; the first writes every level, the next only what changed."""
    stock_sites(pairs // 10, by=caller("erp-link").id, today=TODAY)
    sites = list(Site.objects.filter(code__startswith="stocked-").order_by("code").values_list("pk", flat=True))
    turns = 1 if pairs > 100_000 else 2
    first = _first_night(pairs, sites, turns)
    most = _in_a_worker(sites)
    yield replace(first, name=f"{first.name}; at most {most:.0f} MB held")
    yield _next_night(pairs, sites, turns)


def _first_night(pairs: int, sites: list[uuid.UUID], turns: int) -> Comparison:
    floor = _Floor(pairs, sites)

    def ours(_: int) -> None:
        _forget()
        for site in sites:
            replenish_site(by=None, site_id=site, as_of=TODAY)

    def least(_: int) -> None:
        floor.read()
        floor.calculate()
        floor.write()

    return compare(
        f"first night, {pairs:,} items at sites", ours, least, unit="items", per_turn=pairs, turns=turns,
        floor_words="arrays, and COPY of the same rows out and in",
    )  # fmt: skip


def _next_night(pairs: int, sites: list[uuid.UUID], turns: int) -> Comparison:
    floor = _Floor(pairs, sites)

    def ours(_: int) -> None:
        for site in sites:
            told = replenish_site(by=None, site_id=site, as_of=TODAY)
            assert not told["levels_changed"], told
            assert not told["opened"], told

    def least(_: int) -> None:
        floor.read()
        floor.calculate()

    return compare(
        f"next night, {pairs:,} items at sites", ours, least, unit="items", per_turn=pairs, turns=turns,
        floor_words="arrays, and COPY of the same rows out",
    )  # fmt: skip


def _forget() -> None:
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM kits_proposal")
        cursor.execute("TRUNCATE kits_replenishmentlevel")


class _Floor:
    """The least that could be done with the same rows."""

    def __init__(self, pairs: int, sites: list[uuid.UUID]) -> None:
        self.sites = sites
        generator = np.random.default_rng(1)
        self.demand = np.where(generator.random((36, pairs)) < 0.22, generator.integers(1, 3, (36, pairs)), 0).astype(
            float
        )
        self.rows: dict[str, bytes] = {}

    def read(self) -> None:
        with connection.cursor() as cursor:
            for site in self.sites:
                for statement in READ.values():
                    with cursor.copy(f"COPY ({statement.format(site=site)}) TO STDOUT (FORMAT binary)") as copy:
                        for _ in copy:
                            pass

    def calculate(self) -> None:
        found = forecast_all(self.demand)
        mean, variance = period_moments((found.mean, found.variance, found.variance_of_mean), months=1.7)
        reorder_levels(mean, variance, target=0.95, quantity=2)

    def write(self) -> None:
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            for table, rows in WRITTEN.items():
                if table not in self.rows:
                    out = io.BytesIO()
                    with cursor.copy(f"COPY ({rows}) TO STDOUT (FORMAT binary)") as copy:
                        for block in copy:
                            out.write(block)
                    self.rows[table] = out.getvalue()
                cursor.execute(f"DROP TABLE IF EXISTS floor_{table}")
                cursor.execute(f"CREATE TABLE floor_{table} (LIKE {table} INCLUDING ALL)")
                with cursor.copy(f"COPY floor_{table} FROM STDIN (FORMAT binary)") as copy:
                    copy.write(self.rows[table])
            for table in WRITTEN:
                cursor.execute(f"DROP TABLE floor_{table}")


def _in_a_worker(sites: list[uuid.UUID]) -> float:
    """The night again in a process of its own; the most memory it held, in MB."""
    place = urlsplit(environment.migration_database_url())
    address = urlunsplit(place._replace(path=f"/{connection.settings_dict['NAME']}"))
    done = subprocess.run(
        [sys.executable, "-m", "bench.night_memory", TODAY.isoformat(), *map(str, sites)],
        check=True, capture_output=True, text=True, cwd=settings.BASE_DIR,
        env={**os.environ, "DATABASE_URL": address, "MIGRATION_DATABASE_URL": address},
    )  # fmt: skip
    return float(done.stdout.split()[-1])
