"""The service's own processes: web server, worker and clock, and the commands that prepare a database."""

import json
import os
import shutil
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from services.demo.life import PROJECT
from services.embedded.places import PlaceRefused
from services.embedded.postgres import APPLICATION, OWNER, Postgres
from services.embedded.processes import Child, wait_until
from services.embedded.valkey import Valkey

BIN = Path(sys.executable).parent
MOST_RESTARTS = 5


@dataclass
class Service:
    """Web server, worker and clock on one database."""

    postgres: Postgres
    valkey: Valkey
    database: str
    port: int
    folder: Path
    children: list[Child] = field(default_factory=list)
    restarts: int = 0

    @property
    def address(self) -> str:
        """Where it is served."""
        return f"http://127.0.0.1:{self.port}"

    def environment(self, role: str = APPLICATION) -> dict[str, str]:
        """What the processes are told; the owning role only where a database is prepared."""
        kept = {name: value for name, value in os.environ.items() if name in {"PATH", "HOME", "LANG", "TZ", "TMPDIR"}}
        return kept | {
            "DJANGO_SETTINGS_MODULE": "services.settings.development",
            "DATABASE_URL": self.postgres.url(self.database, role),
            "MIGRATION_DATABASE_URL": self.postgres.url(self.database, OWNER),
            "REDIS_URL": self.valkey.url,
            "APPLICATION_ROLE": APPLICATION,
            "PUBLIC_ADDRESS": self.address,
            "RATE_LIMIT_PER_MINUTE": "12000",
            "WEB_HOST": "127.0.0.1",
            "WEB_PORT": str(self.port),
            "WEB_WORKERS": "2",
            "PROMETHEUS_MULTIPROC_DIR": str(self.folder / "metrics"),
            "BEAT_SCHEDULE_FILE": str(self.folder / "beat-schedule"),
            "PYTHONUNBUFFERED": "1",
        }

    def start(self) -> None:
        """Start all three; they come up side by side."""
        shutil.rmtree(self.folder / "metrics", ignore_errors=True)
        (self.folder / "metrics").mkdir(parents=True)
        (self.folder / "beat-schedule").unlink(missing_ok=True)
        celery = [str(BIN / "celery"), "--app", "services.worker.celery_app"]
        self.children = [
            self._child("web", [str(BIN / "gunicorn"), "--config", "deploy/gunicorn.conf.py", "services.wsgi"]),
            self._child("worker", [*celery, "worker", "--loglevel", "INFO", "--concurrency", "1"]),
            self._child("beat", [*celery, "beat", "--loglevel", "WARNING"]),
        ]
        for one in self.children:
            one.start()

    def _child(self, name: str, command: list[str]) -> Child:
        return Child(
            name=name,
            command=command,
            environment=self.environment(),
            folder=PROJECT,
            patience=30,
            quiet=True,
            log=self.folder / f"{name}.log",
        )

    def wait_until_ready(self) -> None:
        """Raises `PlaceRefused` with the last words of whoever did not come up."""
        web = self.children[0]
        if not wait_until(self._ready, seconds=90, child=web):
            words = "\n".join(web.lines[-12:])
            raise PlaceRefused(f"The web server did not come up (log: {web.log}):\n{words}")

    def _ready(self) -> bool:
        try:
            with urllib.request.urlopen(f"{self.address}/readyz", timeout=5) as answer:
                return bool(answer.status == 200)
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
            return False

    def keep_alive(self) -> None:
        """Start again whoever died. Raises `PlaceRefused` where that happens over and over."""
        for one in self.children:
            if one.running:
                continue
            self.restarts += 1
            words = "\n".join(one.lines[-8:])
            if self.restarts > MOST_RESTARTS:
                raise PlaceRefused(f"{one.name} keeps dying (log: {one.log}):\n{words}")
            sys.stderr.write(f"{one.name} ended and is started again (log: {one.log})\n")
            one.start()

    def stop(self) -> None:
        """Stop the clock, then the web server, then the worker."""
        for one in reversed(self.children):
            if one.running and one.process is not None:
                one.process.send_signal(one.stop_signal)
        for one in reversed(self.children):
            one.stop()
        self.children = []

    def manage(self, *arguments: str) -> Any:
        """A management command as the owning role; what it prints, read as JSON. Raises `PlaceRefused`."""
        done = subprocess.run(
            [sys.executable, "manage.py", *arguments],
            cwd=PROJECT,
            env=self.environment(OWNER),
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode != 0:
            raise PlaceRefused(f"manage.py {' '.join(arguments)} failed:\n{done.stderr.strip()[-2000:]}")
        return json.loads(done.stdout) if done.stdout.lstrip().startswith("{") else None
