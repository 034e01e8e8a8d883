"""Servers and workers of a test's own, which it may kill: PostgreSQL that keeps its promises, Valkey, Celery workers.

They live in a temporary folder and are reached by sockets in it, so nothing of theirs meets what runs beside them.
"""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import psycopg
from celery import Celery
from django.conf import settings
from django.core.management import call_command
from django.db import connections

from services.embedded.places import PROJECT, take
from services.embedded.postgres import APPLICATION, OWNER, Postgres
from services.embedded.processes import Child
from services.embedded.valkey import Valkey

DATABASE = "faults"
# How long a worker keeps its work without a sign of life.
LEASE_SECONDS = 4
SWEEP_EVERY = 0.5
WAITING = """
SELECT count(*) FROM pg_stat_activity
WHERE datname = current_database() AND wait_event_type = 'Lock' AND application_name = 'backpull'
"""


class Servers:
    """The servers, and the workers on them. Made by `running_servers`."""

    def __init__(self, folder: Path) -> None:
        self.place = take(folder)
        self.postgres = Postgres(self.place)
        self.valkey = Valkey(self.place)
        self.workers: dict[str, Child] = {}
        self.folder = folder

    @property
    def broker(self) -> str:
        return f"redis+socket://{self.valkey.socket}"

    def copy_in(self, server: dict[str, Any], template: str) -> None:
        """The tests' template database, copied from the tests' server."""
        binaries = self.place.postgres_binaries / "bin"
        kept = {"PATH": os.environ.get("PATH", ""), "LC_ALL": "C", "PGPASSWORD": server["PASSWORD"] or ""}
        source = [f"--host={server['HOST']}", f"--port={server['PORT'] or 5432}", f"--username={server['USER']}"]
        dump = subprocess.run(
            [str(binaries / "pg_dump"), *source, "--no-owner", "--no-privileges", template],
            capture_output=True, check=True, env=kept,
        )  # fmt: skip
        self.postgres.create(DATABASE)
        subprocess.run(
            [
                str(binaries / "psql"), "--quiet", "--set=ON_ERROR_STOP=1", f"--host={self.place.sockets}",
                f"--username={OWNER}", f"--dbname={DATABASE}",
            ],
            input=dump.stdout, capture_output=True, check=True, env=kept,
        )  # fmt: skip

    def settings_of_django(self) -> dict[str, Any]:
        return {"NAME": DATABASE, "HOST": str(self.place.sockets), "PORT": "", "USER": OWNER, "PASSWORD": ""}

    def connect(self, role: str = OWNER) -> psycopg.Connection:
        return psycopg.connect(self.postgres.url(DATABASE, role), autocommit=True)

    # Workers

    def start_worker(self, name: str) -> None:
        """A worker with one process, as in production."""
        kept = {one: value for one, value in os.environ.items() if one in {"PATH", "HOME", "LANG", "TZ", "TMPDIR"}}
        worker = Child(
            name=name,
            command=[
                str(Path(sys.executable).parent / "celery"), "--app", "services.worker.celery_app", "worker",
                "--loglevel", "INFO", "--concurrency", "1", "--hostname", f"{name}@here", "--without-gossip",
                "--without-mingle",
            ],
            environment=kept
            | {
                "DJANGO_SETTINGS_MODULE": "services.settings.development",
                "DATABASE_URL": self.postgres.url(DATABASE, APPLICATION),
                "REDIS_URL": self.valkey.url,
                "WORK_LEASE_SECONDS": str(LEASE_SECONDS),
                "PUBLIC_ADDRESS": "http://127.0.0.1",
            },
            folder=PROJECT,
            quiet=True,
            log=self.folder / f"{name}.log",
        )  # fmt: skip
        worker.start()
        self.workers[name] = worker

    def said(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text(errors="replace")

    def until_workers_are_ready(self) -> None:
        until(lambda: all(f"{name}@here ready" in self.said(name) for name in self.workers), "workers come up")

    def sweep(self) -> None:
        """What the clock does every fifteen seconds. A broker that is away is no error."""
        with contextlib.suppress(OSError), Celery(broker=self.broker) as app:
            app.conf.broker_transport_options = {"socket_timeout": 2, "socket_connect_timeout": 1}
            app.send_task("services.worker.tasks.sweep", retry=False, ignore_result=True, expires=5)

    # Killing

    def kill_worker(self, name: str) -> None:
        """Without mercy, with the processes it made."""
        kill(self.workers.pop(name))

    def kill_broker(self) -> None:
        kill(self.valkey.child)

    def kill_postgres(self) -> None:
        kill(self.postgres.child)

    def start_postgres_again(self) -> None:
        """It finds its own way back from what it wrote ahead. Connections to the dead one are given up."""
        connections.close_all()
        self.postgres.start()

    def stop(self) -> None:
        for one in self.workers.values():
            kill(one)
        self.valkey.stop()
        self.postgres.stop()
        self.place.release()


def kill(child: Child | None) -> None:
    """SIGKILL for a process and all of its group."""
    assert child is not None
    assert child.process is not None
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child.process.pid, signal.SIGKILL)
    child.process.wait(20)


def until(
    true: Callable[[], Any], what: str, *, meanwhile: Callable[[], None] | None = None, seconds: float = 60
) -> None:
    """Waits until it is true, doing something else every half second."""
    deadline, turn = time.monotonic() + seconds, 0.0
    while not true():
        assert time.monotonic() < deadline, f"waited in vain until {what}"
        if meanwhile is not None and time.monotonic() > turn:
            meanwhile()
            turn = time.monotonic() + SWEEP_EVERY
        time.sleep(0.05)


@contextlib.contextmanager
def held_back(servers: Servers, how_many: int = 1) -> Iterator[Callable[[], None]]:
    """Nobody can record a change meanwhile, so every piece of work stops in its middle: all is written but that, and
    nothing is committed. Gives what waits until so many stand there."""
    with servers.connect("postgres") as watching, servers.connect() as holding:

        def until_they_stand() -> None:
            until(
                lambda: (watching.execute(WAITING).fetchone() or [0])[0] >= how_many,
                f"{how_many} stand in the middle of their work",
                meanwhile=servers.sweep,
            )

        with contextlib.suppress(psycopg.OperationalError), holding.transaction():
            holding.execute("LOCK TABLE changes_change IN SHARE MODE")
            yield until_they_stand


@contextlib.contextmanager
def running_servers(clones: Any, workers: tuple[str, ...]) -> Iterator[Servers]:
    """Servers with the tables of the trade in them and Django working on them; afterwards all is as before."""
    folder = Path(tempfile.mkdtemp(prefix="bp-faults-"))
    folder.chmod(0o711)
    servers = Servers(folder)
    server = dict(connections["default"].settings_dict)
    try:
        servers.postgres.start()
        servers.copy_in(clones.server, clones.template)
        servers.valkey.start()
        connections.close_all()
        connections["default"].settings_dict.update(servers.settings_of_django())
        settings.DATABASES["default"].update(servers.settings_of_django())
        call_command("grant_application_role", verbosity=0)
        for name in workers:
            servers.start_worker(name)
        yield servers
    finally:
        connections.close_all()
        kept = {name: server[name] for name in servers.settings_of_django()}
        connections["default"].settings_dict.update(kept)
        settings.DATABASES["default"].update(kept)
        servers.stop()
        shutil.rmtree(folder, ignore_errors=True)
