"""One migrated template database a run, with the trade's tables in it; each process works on a clone of its own.

Tests that need real transactions get a fresh clone afterwards: ledgers refuse to be emptied, and a clone is quicker
than emptying the other tables.
"""

import hashlib
import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection, connections
from django.test import TransactionTestCase
from hypothesis import HealthCheck
from hypothesis import settings as of_examples
from psycopg import sql

from tests.world import Cast, gather_cast

ROOT = Path(__file__).parents[1]
# How long an example takes says more of what else the machine does than of the code.
of_examples.register_profile("any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow])
of_examples.load_profile("any machine")
# Files that mostly wait, for servers and browsers: begun first, so that no process is left alone with one at the end.
SLOW = ("tests/deploy", "tests/demo", "tests/faults", "tests/browser")
LOCK = 731_902


def _fingerprint() -> str:
    """Of everything a template is made from: another one is made when it changes."""
    digest = hashlib.sha256()
    patterns = (
        "*/migrations/*.py", "services/*/migrations/*.py", "*/trade_tables/*.csv", "*/operations/trade_tables.py",
        "services/api/guards.py", "services/api/trade_tables.py",
    )  # fmt: skip
    for path in sorted(one for pattern in patterns for one in ROOT.glob(pattern)):
        digest.update(path.as_posix().encode() + path.read_bytes())
    return digest.hexdigest()[:12]


class Clones:
    """Databases of this process, made from the template."""

    def __init__(self, worker: str) -> None:
        self.server = dict(connections["default"].settings_dict)
        self.template = f"backpull_template_{_fingerprint()}"
        self.name = f"backpull_test_{worker}_{os.getpid()}"

    def admin(self) -> psycopg.Connection:
        """A connection beside the databases of tests."""
        return psycopg.connect(
            host=self.server["HOST"] or None,
            port=self.server["PORT"] or None,
            user=self.server["USER"] or None,
            password=self.server["PASSWORD"] or None,
            dbname=self.server["NAME"],
            autocommit=True,
        )

    def make_template(self) -> None:
        """Migrate once, whichever process comes first; the others wait."""
        with self.admin() as admin:
            admin.execute("SELECT pg_advisory_lock(%s)", [LOCK])
            known = admin.execute("SELECT 1 FROM pg_database WHERE datname = %s AND datistemplate", [self.template])
            if known.fetchone():
                return
            name = sql.Identifier(self.template)
            admin.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(name))
            admin.execute(sql.SQL("CREATE DATABASE {} TEMPLATE template0 ENCODING 'UTF8'").format(name))
            self.work_on(self.template)
            call_command("migrate", verbosity=0, interactive=False)
            call_command("load_trade_tables", stdout=io.StringIO())
            connections.close_all()
            admin.execute(sql.SQL("ALTER DATABASE {} IS_TEMPLATE true").format(name))

    def work_on(self, name: str) -> None:
        """Point Django at a database."""
        connections.close_all()
        settings.DATABASES["default"]["NAME"] = name
        connections["default"].settings_dict["NAME"] = name

    def _take_out(self, admin: psycopg.Connection) -> None:
        """Drop the clone. Autovacuum at work in it is nobody's to terminate; without FORCE it is asked to leave."""
        name = sql.Identifier(self.name)
        try:
            admin.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(name))
        except psycopg.errors.InsufficientPrivilege:
            admin.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(name))

    def renew(self) -> None:
        """A fresh clone under the same name."""
        connections.close_all()
        with self.admin() as admin:
            self._take_out(admin)
            admin.execute(
                sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(
                    sql.Identifier(self.name), sql.Identifier(self.template)
                )
            )
        self.work_on(self.name)

    def drop(self) -> None:
        """Leave nothing behind."""
        connections.close_all()
        with self.admin() as admin:
            self._take_out(admin)
        self.work_on(str(self.server["NAME"]))


@pytest.fixture(scope="session")
def clones(worker_id: str, django_db_blocker: Any) -> Iterator[Clones]:
    made = Clones(worker_id)
    with django_db_blocker.unblock():
        made.make_template()
        made.renew()
    yield made
    with django_db_blocker.unblock():
        made.drop()


@pytest.fixture(scope="session")
def django_db_setup(clones: Clones) -> Iterator[None]:
    """In place of pytest-django's own: the clone is there."""

    def renew_instead_of_emptying(case: TransactionTestCase) -> None:
        clones.renew()

    case: Any = TransactionTestCase
    kept = case._fixture_teardown
    case._fixture_teardown = renew_instead_of_emptying
    yield
    case._fixture_teardown = kept


@pytest.fixture(scope="session")
def worker_id(request: pytest.FixtureRequest) -> str:
    """The xdist worker's name; *main* where there are no workers."""
    return getattr(request.config, "workerinput", {}).get("workerid", "main")


@pytest.fixture
def cast(db: None) -> Cast:
    """Two sites and everybody who recurs in the tests, by role."""
    return gather_cast()


@pytest.fixture
def application_role_connection(transactional_db: None) -> Iterator[psycopg.Connection]:
    """A connection as the application's role has it in production."""
    call_command("grant_application_role", verbosity=0)
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_database()")
        name = cursor.fetchone()[0]
    server = connections["default"].settings_dict
    with psycopg.connect(
        host=server["HOST"] or None,
        port=server["PORT"] or None,
        user=settings.APPLICATION_ROLE,
        dbname=name,
        autocommit=True,
    ) as opened:
        yield opened


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """After they were shuffled; what is not slow keeps its order."""
    items.sort(key=lambda one: not one.path.relative_to(ROOT).as_posix().startswith(SLOW))
