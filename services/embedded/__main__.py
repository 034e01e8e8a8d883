"""``python -m services.embedded run -- COMMAND``: a command with a PostgreSQL and a Valkey of its own.

DATABASE_URL and REDIS_URL, where set, are used instead. The servers are hasty (no fsync): for tests and tools only.
With ``--durable`` they are not: what is committed is on disk.
"""

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from services.embedded.places import PROJECT, AlreadyRunning, Place, PlaceRefused, take
from services.embedded.postgres import APPLICATION, OWNER, Postgres
from services.embedded.valkey import Valkey

DATABASE = "backpull"


def _place(wanted: Path) -> tuple[Place, Path | None]:
    try:
        return take(wanted), None
    except AlreadyRunning:
        folder = Path(tempfile.mkdtemp(prefix="bp-run-"))
        folder.chmod(0o711)
        return take(folder), folder


def run(command: list[str], *, binaries: Path | None = None, durable: bool = False) -> int:
    """Run a command with embedded servers where no others are named; its exit code."""
    environment = dict(os.environ)
    need_postgres, need_valkey = "DATABASE_URL" not in environment, "REDIS_URL" not in environment
    if not need_postgres and not need_valkey:
        return subprocess.run(command, check=False).returncode
    place, temporary = _place(PROJECT / ".data" / "tools")
    postgres = Postgres(place, hasty=not durable, binaries=binaries) if need_postgres else None
    valkey = Valkey(place) if need_valkey else None
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    try:
        if postgres is not None:
            postgres.start()
            if DATABASE not in postgres.databases():
                postgres.create(DATABASE)
            environment["DATABASE_URL"] = postgres.url(DATABASE, OWNER)
            environment["MIGRATION_DATABASE_URL"] = environment["DATABASE_URL"]
            environment["APPLICATION_DATABASE_URL"] = postgres.url(DATABASE, APPLICATION)
        if valkey is not None:
            valkey.start()
            environment["REDIS_URL"] = valkey.url
        try:
            return subprocess.run(command, env=environment, check=False).returncode
        except KeyboardInterrupt:
            return 130
    finally:
        for server in (valkey, postgres):
            if server is not None:
                server.stop()
        place.release()
        if temporary is not None:
            shutil.rmtree(temporary, ignore_errors=True)


def main() -> int:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m services.embedded", description=__doc__)
    commands = parser.add_subparsers(dest="action", required=True)
    runs = commands.add_parser("run", help="run a command with servers of its own")
    runs.add_argument("--postgres-binaries", type=Path, help="the bin folder of another PostgreSQL")
    runs.add_argument("--durable", action="store_true", help="what is committed is on disk, as in production")
    runs.add_argument("command", nargs=argparse.REMAINDER)
    arguments = parser.parse_args()
    command = [one for index, one in enumerate(arguments.command) if not (index == 0 and one == "--")]
    if not command:
        parser.error("name a command after --")
    try:
        return run(command, binaries=arguments.postgres_binaries, durable=arguments.durable)
    except PlaceRefused as refused:
        sys.stderr.write(f"{refused}\n")
        return 1


if __name__ == "__main__":
    sys.exit(main())
