"""Small computed answers over HTTP: a projection of stock, and the first day on which more can be had.

The floor is the smallest WSGI application that runs the same queries and the same calculation (`bench.smallest_web`),
on the same web server with the same number of processes and threads; both are asked over one kept connection each, in
turns.
"""

import datetime
import http.client
import os
import socket
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from urllib.parse import quote

from django.db import connection, transaction
from django.db.models import Count, Sum
from django.utils import timezone

from bench.operator_data import caller
from bench.timing import Comparison, compare
from kits.models import Balance
from kits.operations import reservations

LOGIN = "erp-link"
WORDS = {"projection": "The projection of a claimed item over a year", "promise": "The promise date for one job"}
ASKED_A_TURN, TURNS = 25, 9


def measures_of_answers(tokens: dict[str, str], answer: str) -> Iterator[Comparison]:
    """One measure: the answer for an item that jobs claim at a site."""
    path = f"{claimed_item()}/{answer}"
    with served("services.wsgi") as ours, served("bench.smallest_web") as floor:
        kept = {"Authorization": f"Bearer {tokens[LOGIN]}"}
        asked = {
            side: http.client.HTTPConnection("127.0.0.1", port) for side, port in (("ours", ours), ("floor", floor))
        }

        def ask(side: str) -> bytes:
            # The server ends a connection that was idle for some seconds: a new one for each turn, kept in it.
            asked[side].close()
            for _ in range(ASKED_A_TURN):
                asked[side].request("GET", path, headers=kept)
                got = asked[side].getresponse()
                body = got.read()
                assert got.status == 200, body
            return body

        assert len(ask("floor")) > 100
        yield compare(
            f"{WORDS[answer]} over HTTP", lambda _: ask("ours"), lambda _: ask("floor"),
            floor_words="the same queries and calculation in the smallest WSGI application, same server",
            unit="answers", per_turn=ASKED_A_TURN, turns=TURNS,
        )  # fmt: skip


def claimed_item() -> str:
    """The address of a kit of which most lots lie at a site, once five jobs claim it, two of them by lots."""
    lying = Balance.objects.filter(on_hand__gt=0, condition="usable", item__kind="kit").values("site_id", "item_id")
    place = lying.annotate(lots=Count("id"), pieces=Sum("on_hand")).order_by("-lots", "-pieces", "site_id")[0]
    by, today = caller(LOGIN), timezone.now().date()
    with transaction.atomic(savepoint=False):
        for number in range(5):
            claim = reservations.plan(
                by=by, job_id=uuid.uuid4(), job_number=f"BENCH-{number}", quantity=Decimal(1),
                site_id=place["site_id"], item_id=place["item_id"],
                need_date=today + datetime.timedelta(days=7 * number + 3),
            )  # fmt: skip
            if number < 2:
                reservations.reclaim(by=by, reservation_id=claim.pk)
    return f"/api/v1/sites/{place['site_id']}/items/{place['item_id']}"


@contextmanager
def served(application: str, *, login: str = LOGIN) -> Iterator[int]:
    """A web server of its own on the measure's database; its port. The floor asks as ``login``."""
    there = connection.settings_dict
    database = f"postgresql://{there['USER']}@/{there['NAME']}?host={quote(str(there['HOST']))}"
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "services.settings.development", "DATABASE_URL": database,
        "MIGRATION_DATABASE_URL": database, "WEB_HOST": "127.0.0.1", "WEB_PORT": str(port), "WEB_WORKERS": "1",
        "WEB_THREADS": "2", "RATE_LIMIT_PER_MINUTE": "0", "BENCH_PRINCIPAL": str(caller(login).id),
    }  # fmt: skip
    with tempfile.TemporaryFile() as log:
        server = subprocess.Popen(
            [str(Path(sys.executable).parent / "gunicorn"), "--config", "deploy/gunicorn.conf.py", application],
            env=environment, stdout=log, stderr=log,
        )  # fmt: skip
        try:
            deadline = time.monotonic() + 60
            while not _listens(port):
                assert server.poll() is None, application
                assert time.monotonic() < deadline, application
            yield port
        finally:
            server.terminate()
            server.wait(30)


def _listens(port: int) -> bool:
    with socket.socket() as tried:
        time.sleep(0.05)
        return tried.connect_ex(("127.0.0.1", port)) == 0
