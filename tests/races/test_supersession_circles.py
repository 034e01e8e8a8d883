"""Writers who each add a sound link at the same moment never close a circle together."""

import datetime
import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, transaction

from kits.models import Supersession
from kits.operations.supersession_loads import load_supersessions
from kits.operations.supersessions import register_supersession
from kits.refusals_catalogue import SupersessionCycle
from services.api.loading import LoadRow
from tests.shelves import make_part
from tests.world import gather_cast

pytestmark = pytest.mark.django_db(transaction=True)
DAY = datetime.date(2026, 1, 1)


def both_at_once(*doings):
    """Each doing in a transaction of its own over a connection of its own, begun together; what became of each."""
    together = threading.Barrier(len(doings), timeout=60)

    def one(do):
        try:
            connection.ensure_connection()
            together.wait()
            with transaction.atomic():
                return do()
        except SupersessionCycle:
            return "refused"
        finally:
            connection.close()

    with ThreadPoolExecutor(len(doings)) as pool:
        return list(pool.map(one, doings))


def say(by, old, new):
    def do():
        register_supersession(by=by, old_id=old.pk, new_id=new.pk, from_date=DAY)
        return "said"

    return do


def load(by, *pairs):
    def do():
        rows = [
            LoadRow(place, {"old_number": old.number, "new_number": new.number, "from_date": DAY})
            for place, (old, new) in enumerate(pairs, 1)
        ]
        return [one.outcome for one in load_supersessions(by=by, rows=rows)]

    return do


@pytest.mark.parametrize("attempt", range(5))
def test_of_two_who_say_the_opposite_one_is_refused(attempt):
    by, a, b = gather_cast().by("data-owner"), make_part("OR-A"), make_part("OR-B")
    assert sorted(both_at_once(say(by, a, b), say(by, b, a))) == ["refused", "said"]
    assert Supersession.objects.count() == 1


def test_of_four_links_that_close_a_circle_one_is_refused():
    by, parts = gather_cast().by("data-owner"), [make_part(f"OR-{place}") for place in range(4)]
    links = [say(by, parts[place], parts[(place + 1) % 4]) for place in range(4)]
    assert sorted(both_at_once(*links)) == ["refused", "said", "said", "said"]


def test_a_file_and_a_person_close_no_circle_between_them():
    by, a, b, c = gather_cast().by("data-owner"), make_part("OR-A"), make_part("OR-B"), make_part("OR-C")
    file, person = both_at_once(load(by, (a, b), (b, c)), say(by, c, a))
    assert (file, person) in [(["created", "created"], "refused"), (["created", "refused"], "said")]


def say_without_a_turn(old, new, looked):
    """What a careless program would do: look whether the way back is free, then write."""

    def do():
        free = not Supersession.objects.filter(old=new.pk, new=old.pk).exists()
        looked.wait()
        if not free:
            return "refused"
        Supersession.objects.create(old_id=old.pk, new_id=new.pk, from_date=DAY)
        return "said"

    return do


def test_without_taking_turns_the_circle_is_closed_so_the_race_is_real():
    a, b, looked = make_part("OR-A"), make_part("OR-B"), threading.Barrier(2, timeout=60)
    assert both_at_once(say_without_a_turn(a, b, looked), say_without_a_turn(b, a, looked)) == ["said", "said"]
