"""What a client of the measures of the ledger does over and over; see `bench.ledger_measures`."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

import psycopg
from django.db import connection, transaction
from django.utils import timezone

from bench.clients import Doing
from kits.operations import reservations
from kits.operations.stock_entries import StockEntry, record_entry
from services.identity.callers import as_caller
from services.identity.models import Principal


def on_database(name: str) -> None:
    """Work on the database of the measure."""
    connection.settings_dict["NAME"] = name


def receiving(arguments: dict[str, Any], number: int) -> Doing:
    """Receipts into lots of the client's own, by the operation."""
    on_database(arguments["database"])
    by = as_caller(Principal.objects.get(login=arguments["login"]))
    site, item = uuid.UUID(arguments["site"]), uuid.UUID(arguments["item"])

    def receive(turn: int) -> None:
        entry = StockEntry(
            "receipt", site, item, f"BENCH-{number}", Decimal(1), timezone.now() - datetime.timedelta(seconds=1)
        )
        record_entry(by=by, entry=entry)

    return receive


def inserting(arguments: dict[str, Any], number: int) -> Doing:
    """The rows of a receipt by bare statements: a movement, its balance, its change."""
    opened = psycopg.connect(arguments["address"], autocommit=True)
    movement, change = arguments["tables"]

    def insert(turn: int) -> None:
        with opened.transaction():
            opened.execute(
                f"INSERT INTO {movement} SELECT (jsonb_populate_record(m, jsonb_build_object("
                "'id', %s::text, 'external_id', NULL))).* FROM kits_movement m WHERE m.id = %s",
                [str(uuid.uuid4()), arguments["movement"]],
            )
            opened.execute("UPDATE bench_balance SET on_hand = on_hand + 1 WHERE client = %s", [number])
            opened.execute(
                f"INSERT INTO {change} (kind, noun, noun_id, noun_version, site_id, body, by_id, request_id) "
                "VALUES ('stock.moved', 'movement', %s, 1, %s, '{}', NULL, '')",
                [uuid.uuid4(), arguments["site"]],
            )

    return insert


def reserving(arguments: dict[str, Any], number: int) -> Doing:
    """Claims on one lot made hard, each client its own claims."""
    on_database(arguments["database"])
    by = as_caller(Principal.objects.get(login=arguments["login"]))
    claims = [uuid.UUID(one) for one in arguments["claims"][number]]

    def reserve(turn: int) -> None:
        with transaction.atomic(savepoint=False):
            reservations.reserve(by=by, reservation_id=claims[turn])

    return reserve
