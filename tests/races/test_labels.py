"""Several people print labels of the same things at once: each thing ends with one active code, the same for all."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, transaction

from assets.models import Bin
from jobs.models import Label
from jobs.operations.labels import make_labels, replace_label
from jobs.queries.labels import Thing
from services.api.refusals import VersionChanged
from services.changes.models import Change
from tests.world import gather_cast

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 8
SHELVES = 20


def all_at_once(do):
    together = threading.Barrier(PEOPLE, timeout=60)

    def one(number):
        try:
            connection.ensure_connection()
            together.wait()
            with transaction.atomic():
                return do(number)
        except VersionChanged:
            return None
        finally:
            connection.close()

    with ThreadPoolExecutor(PEOPLE) as pool:
        return list(pool.map(one, range(PEOPLE)))


@pytest.fixture
def shelves(transactional_db):
    cast = gather_cast()
    return cast, [Thing("bin", Bin.objects.create(site=cast.north, code=f"A-{one}").pk) for one in range(SHELVES)]


def test_who_prints_at_the_same_time_gets_the_same_codes(shelves):
    cast, things = shelves

    def make(number):
        ids, new = make_labels(by=cast.by("stores"), things=things if number % 2 else things[::-1])
        return (ids if number % 2 else ids[::-1]), new

    answers = all_at_once(make)
    assert Label.objects.filter(state="active").count() == Label.objects.count() == SHELVES
    assert len({tuple(ids) for ids, _ in answers}) == 1
    assert sum(len(new) for _, new in answers) == SHELVES
    assert Change.objects.filter(kind="label.made").count() == SHELVES


def test_who_replaces_at_the_same_time_makes_one_replacement(shelves):
    cast, things = shelves
    with transaction.atomic():
        (label_id,), _ = make_labels(by=cast.by("stores"), things=things[:1])
    made = all_at_once(
        lambda number: replace_label(by=cast.by("stores"), label_id=label_id, expected_version=1, reason="torn").pk
    )
    assert len([one for one in made if one]) == 1
    assert sorted(Label.objects.values_list("state", flat=True)) == ["active", "replaced"]
