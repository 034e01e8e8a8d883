"""Child processes that never outlive their supervisor."""

import contextlib
import ctypes
import os
import pwd
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

_PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None, use_errno=True)


@dataclass
class Child:
    """A process in a session of its own: Ctrl-C reaches only the supervisor, which stops it with its own signal.

    Must be started from the main thread, since the kernel ties its death signal to the thread that made it.
    """

    name: str
    command: Sequence[str]
    environment: Mapping[str, str]
    stop_signal: signal.Signals = signal.SIGTERM
    patience: float = 10.0
    account: pwd.struct_passwd | None = None
    folder: Path | None = None
    quiet: bool = False
    log: Path | None = None
    process: subprocess.Popen[bytes] | None = None
    lines: list[str] = field(default_factory=list)

    def start(self) -> None:
        """Start it; its output comes out with its name before each line."""
        mother = os.getpid()

        def last_words() -> None:
            _libc.prctl(_PR_SET_PDEATHSIG, int(self.stop_signal))
            if os.getppid() != mother:
                os._exit(1)

        self.process = subprocess.Popen(
            list(self.command),
            env=dict(self.environment),
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            user=self.account.pw_uid if self.account else None,
            group=self.account.pw_gid if self.account else None,
            extra_groups=[] if self.account else None,
            preexec_fn=last_words,
        )
        if self.process.stdout is not None:
            threading.Thread(target=self._echo, args=(self.process.stdout,), daemon=True).start()

    def _echo(self, stream: IO[bytes]) -> None:
        with (self.log or Path(os.devnull)).open("ab", buffering=0) as kept:
            for raw in stream:
                kept.write(raw)
                line = raw.decode(errors="replace").rstrip()
                self.lines.append(line)
                del self.lines[:-200]
                if not self.quiet:
                    sys.stderr.write(f"{self.name:>9} | {line}\n")

    @property
    def running(self) -> bool:
        """Whether it is alive."""
        return self.process is not None and self.process.poll() is None

    def stop(self) -> None:
        """Ask it to stop; after its patience is over, make it."""
        if self.process is None or self.process.poll() is not None:
            return
        with contextlib.suppress(ProcessLookupError):
            self.process.send_signal(self.stop_signal)
        try:
            self.process.wait(self.patience)
        except subprocess.TimeoutExpired:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(5)


def wait_until(ready: object, *, seconds: float, child: Child | None = None) -> bool:
    """Poll ``ready`` until it is true, the child has died, or time is up."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if callable(ready) and ready():
            return True
        if child is not None and not child.running:
            return False
        time.sleep(0.05)
    return False
