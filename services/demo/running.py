"""``make demo``: one overhaul through the API on servers of our own, then the service until Ctrl-C.

ONCE=1 leaves after the account; KEEP=1 goes on with the last run's database; PORT names another port; BACKPULL_DATA
another data directory.
"""

import json
import os
import signal
import socket
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import psycopg

from services.demo import life
from services.demo.account import STORY_PUMP, Account, tell
from services.demo.account_records import papers_are_kept, what_was_found, worked_without_connection
from services.demo.account_stores import files_were_loaded, kit_is_reserved, kits_that_fit, shelf_is_refilled
from services.demo.account_wear import pump_is_looked_ahead
from services.demo.account_work import job_is_signed_off, shaft_is_measured, work_begins
from services.demo.api_client import Api, NotAsItShouldBe
from services.demo.children import Service
from services.demo.loading import load_operator
from services.embedded.places import PROJECT, AlreadyRunning, Place, PlaceRefused, say_who, take
from services.embedded.postgres import OWNER, Postgres
from services.embedded.valkey import Valkey

PORT = 8800
LOADING = "demo_loading"
STEPS = [
    files_were_loaded, kits_that_fit, kit_is_reserved, work_begins, shaft_is_measured, what_was_found,
    worked_without_connection, job_is_signed_off, papers_are_kept, pump_is_looked_ahead, shelf_is_refilled,
]  # fmt: skip


def say(words: str = "") -> None:
    """A line of the demo itself."""
    print(words, flush=True)


def main() -> int:
    """The exit code: 0 once the account is as it should be."""
    port = _port()
    if port is None:
        return 1
    begun = time.monotonic()
    signal.signal(signal.SIGTERM, _interrupt)
    try:
        place = take(Path(os.environ.get("BACKPULL_DATA") or PROJECT / ".data" / "demo"))
    except AlreadyRunning as running:
        say(f"A demo is running already ({running}). Stop it with Ctrl-C where it runs, or use that one.")
        return 1
    except PlaceRefused as refused:
        say(str(refused))
        return 1
    postgres, valkey = Postgres(place), Valkey(place)
    service: Service | None = None
    try:
        say_who(place.lock, f"pid {os.getpid()}, http://127.0.0.1:{port}")
        folder = _folder(place)
        say(f"Backpull demo: {place.note}; logs in {folder}")
        last = life.read(folder)
        _need(port, patience=30 if last is not None and last.phase == life.TELLING else 1)
        postgres.start()
        valkey.start()
        kept, service = _run_of(postgres, valkey, folder, port)
        code = _tell(kept, service, folder, begun)
        if code == 0 and os.environ.get("ONCE") != "1":
            _serve(service)
        return code
    except KeyboardInterrupt:
        say("\nStopped.")
        return 130
    except (PlaceRefused, psycopg.Error) as error:
        say(str(error))
        return 1
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        for one in (service, valkey, postgres):
            if one is not None:
                one.stop()
        place.release()


def _interrupt(*_: Any) -> None:
    raise KeyboardInterrupt


def _port() -> int | None:
    text = os.environ.get("PORT") or str(PORT)
    if not text.isdecimal() or not 1024 <= int(text) <= 65535:
        say(f"PORT={text} is no port from 1024 to 65535.")
        return None
    return int(text)


def _need(port: int, *, patience: float) -> None:
    """Raises `PlaceRefused` where the port stays taken; a web server that was killed leaves it in a moment."""
    until = time.monotonic() + patience
    while True:
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                if time.monotonic() > until:
                    raise PlaceRefused(
                        f"Port {port} is taken by another program. Choose another: make demo PORT={port + 1}"
                    ) from None
            else:
                return
        time.sleep(0.2)


def _folder(place: Place) -> Path:
    folder = place.data / "run"
    folder.mkdir(exist_ok=True)
    return folder


def _run_of(postgres: Postgres, valkey: Valkey, folder: Path, port: int) -> tuple[life.Life, Service]:
    """The run to tell: the interrupted one, the last one where it is kept, or a fresh clone of the loaded template."""
    last, today = life.read(folder), datetime.now(UTC).date()
    template = life.template_name(today)
    known = postgres.databases()
    if last is not None and last.database in known:
        if os.environ.get("KEEP") == "1":
            say("Going on with the database of the last run.")
            service = Service(postgres, valkey, last.database, port, folder)
            service.manage("migrate", "--verbosity", "0", "--no-input")
            service.manage("grant_application_role", "--verbosity", "0")
            return last, service
        if last.phase == life.TELLING and last.template.rpartition("_")[2] == template.rpartition("_")[2]:
            say("The last run was interrupted; it goes on where it stopped.")
            return last, Service(postgres, valkey, last.database, port, folder)
    for name in known:
        if name.startswith(("demo_run_", LOADING)) or (name.startswith("demo_template_") and name != template):
            postgres.drop(name)
    if template not in known:
        _make_template(postgres, valkey, folder, port, template)
    fresh = life.begin(template, today)
    fresh.write(folder)
    postgres.create(fresh.database, template=template)
    with psycopg.connect(postgres.url(fresh.database, OWNER), autocommit=True) as clone:
        clone.execute("UPDATE changes_epoch SET epoch = gen_random_uuid()")
    return fresh, Service(postgres, valkey, fresh.database, port, folder)


def _make_template(postgres: Postgres, valkey: Valkey, folder: Path, port: int, name: str) -> None:
    say("First run today: the operator's files are loaded through the API, which takes about a minute.")
    postgres.create(LOADING)
    service = Service(postgres, valkey, LOADING, port, folder)
    day = datetime.now(UTC).date()
    people = service.manage("demo_prepare", str(folder / "operator"), "--day", day.isoformat())["people"]
    service.start()
    try:
        service.wait_until_ready()
        callers = _callers(service, people, life.begin(name, day))
        load_operator(folder / "operator", callers["erp-link"], callers["peder"], say=say)
        # Once more, now that there are sites: the grants that waited for them.
        people = service.manage("demo_people", str(folder / "operator"), "--json")["people"]
    except NotAsItShouldBe as wrong:
        raise PlaceRefused(f"The operator's files could not be loaded: {wrong}") from wrong
    finally:
        service.stop()
    _keep_people(folder, name, people)
    postgres.rename(LOADING, name)


def _keep_people(folder: Path, template: str, people: list[dict[str, Any]]) -> None:
    """Logins and tokens of a template, for its clones; readable by the one who runs the demo only."""
    for old in folder.glob("people-*.json"):
        old.unlink()
    file = folder / f"people-{template}.json"
    file.touch(mode=0o600)
    file.write_text(json.dumps(people, ensure_ascii=False), encoding="utf-8")


def _people(service: Service, folder: Path, template: str) -> list[dict[str, Any]]:
    file = folder / f"people-{template}.json"
    if file.exists():
        return list(json.loads(file.read_text(encoding="utf-8")))
    return list(service.manage("demo_people", str(folder / "operator"), "--json")["people"])


def _callers(service: Service, people: list[dict[str, Any]], kept: life.Life) -> dict[str, Api]:
    return {one["login"]: Api(service.address, one["token"], kept.id, one["name"]) for one in people}


def _tell(kept: life.Life, service: Service, folder: Path, begun: float) -> int:
    service.start()
    people = _people(service, folder, kept.template)
    service.wait_until_ready()
    account = Account(kept.id, _callers(service, people, kept), folder / "operator", kept.today, write=say)
    try:
        tell(account, [_watched(step, service) for step in STEPS])
    except NotAsItShouldBe as wrong:
        say(f"\nNot as it should be: {wrong}")
        return 1
    kept.phase = life.TOLD
    kept.write(folder)
    say(f"\nEvery step was as it should be ({time.monotonic() - begun:.0f} s from the start).")
    _tell_where(service, people)
    return 0


def _watched(step: Callable[[Account], None], service: Service) -> Callable[[Account], None]:
    def watched(account: Account) -> None:
        service.keep_alive()
        step(account)

    return watched


def _tell_where(service: Service, people: list[dict[str, Any]]) -> None:
    say(f"\nStores board   {service.address}/")
    say(f"Reference      {service.address}/api/docs/")
    say(f"Health         {service.address}/healthz  {service.address}/readyz  {service.address}/metrics")
    say("\nLogin        Password             Who")
    for one in people:
        if one["password"]:
            say(f"{one['login']:<12} {one['password']:<20} {one['name']}, {one['title'].lower()}")
    stores = next(one for one in people if one["login"] == "tumas")
    say(f"\nA token of the stores manager:\n  TOKEN={stores['token']}")
    say(f'  curl -H "Authorization: Bearer $TOKEN" "{service.address}/api/v1/pumps?tag={STORY_PUMP}"')
    environment = service.environment()
    say("\nThe ledger, proved from another terminal:")
    say(
        f"  DJANGO_SETTINGS_MODULE=services.settings.development DATABASE_URL='{environment['DATABASE_URL']}' "
        f"REDIS_URL='{environment['REDIS_URL']}' .venv/bin/python manage.py verify_ledger"
    )


def _serve(service: Service) -> None:
    say("\nServing until Ctrl-C.")
    while True:
        service.keep_alive()
        time.sleep(0.5)


if __name__ == "__main__":
    sys.exit(main())
