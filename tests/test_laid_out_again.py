"""What is written again is what was built, but for ids and moments."""

import re
import uuid

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from assets.models import BuildClass
from kits.operations.fit import compute_marked
from kits.queries.fit_candidates import stale_positions
from tests import overhauls
from tests.overhauls import open_workshop, workshops
from tests.world import gather_cast

pytestmark = pytest.mark.django_db
COLUMNS = """
SELECT c.table_name, array_agg(c.column_name::text ORDER BY c.ordinal_position)
FROM information_schema.columns c JOIN information_schema.tables t USING (table_schema, table_name)
WHERE c.table_schema = 'public' AND t.table_type = 'BASE TABLE' AND c.data_type <> 'xid8' AND c.is_identity = 'NO'
    AND (c.table_name, c.column_name) <> ('kits_askedkey', 'seen')
GROUP BY c.table_name ORDER BY c.table_name
"""
ID = re.compile(r"(?<![0-9a-f])[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}(?![0-9a-f])")
MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(\.\d+)?(\+00:00)?")


def whole_database():
    """Every row of every table, by the columns that neither a sequence fills nor a digest of ids."""
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute(COLUMNS)
        tables = cursor.fetchall()
        found = {}
        for table, columns in tables:
            named = ", ".join(f'"{one}"' for one in columns)
            cursor.execute(f"SELECT to_jsonb(one)::text FROM (SELECT {named} FROM {table}) one")
            found[table] = [row[0] for row in cursor.fetchall()]
    return found


def without_names(found, before):
    """Rows that came in, ids told by their place among all ids, moments by whether they are the transaction's."""
    rows = {table: [row for row in some if row not in set(before[table])] for table, some in found.items()}
    ids = sorted({one for some in rows.values() for row in some for one in ID.findall(row)})
    named = {one: f"id {place}" for place, one in enumerate(ids)}
    with connection.cursor() as cursor:
        cursor.execute("SELECT to_jsonb(now())::text")
        opened = cursor.fetchone()[0].strip('"')
    return {
        table: sorted(
            MOMENT.sub(lambda one: "opened" if one[0] == opened else "later", ID.sub(lambda one: named[one[0]], row))
            for row in some
        )
        for table, some in rows.items()
        if some
    }


def laid_out():
    """What laying out a workshop leaves in the database, what it gives, and how many statements it took."""
    before = whole_database()
    with transaction.atomic():
        cast = gather_cast()
        with CaptureQueriesContext(connection) as told:
            workshop = open_workshop(cast)
        assert stale_positions(list(BuildClass.objects.values_list("pk", flat=True))) == []
        assert compute_marked(limit=200) == 0
        found = whole_database()
        rows = without_names(found, before)
        transaction.set_rollback(True)
    return rows, workshop, len(told)


@pytest.fixture
def unseen(monkeypatch):
    """As in a process that has built none yet."""
    monkeypatch.setattr(overhauls, "WORKSHOP", workshops())


def test_a_workshop_laid_out_again_is_the_one_that_was_built(unseen, monkeypatch):
    built, first, many = laid_out()
    again, second, few = laid_out()
    monkeypatch.setattr(overhauls, "WORKSHOP", workshops())
    anew, _, as_many = laid_out()
    assert len(built) > 20
    assert again == built
    assert anew == built
    assert as_many == many
    assert few == 2
    assert second.pump.pk != first.pump.pk
    assert second.pump.tag == first.pump.tag
    assert isinstance(second.instruments["dial"].pk, uuid.UUID)


def test_what_it_gives_is_what_lies_in_the_database(unseen):
    open_before = gather_cast()
    with transaction.atomic():
        open_workshop(open_before)
        transaction.set_rollback(True)
    workshop = open_workshop(open_before)
    for thing in (workshop.pump, workshop.kit, workshop.o_ring, workshop.bearing, *workshop.instruments.values()):
        stored = type(thing)._default_manager.get(pk=thing.pk)
        for one in thing._meta.concrete_fields:
            if one.attname not in {"created_at", "updated_at"}:
                assert getattr(thing, one.attname) == getattr(stored, one.attname), (thing, one.attname)


def test_where_something_else_lies_already_it_is_built(unseen):
    cast = gather_cast()
    with transaction.atomic():
        open_workshop(cast)
        transaction.set_rollback(True)
    overhauls.make_kit("KIT-OTHER", [("casing-o-ring", overhauls._part("OR-1", "o-ring", "226 NBR 70"))])
    with CaptureQueriesContext(connection) as told:
        workshop = open_workshop(cast)
    assert len(told) > 100
    assert workshop.kit.number == "KIT-NB"
