"""Chains of supersession over HTTP: both directions, days, withdrawing, many at once, long chains, files."""

import datetime
import itertools
import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kits.models import Supersession
from kits.operations.supersession_loads import load_supersessions
from kits.queries.supersessions import chains_of
from services.api.loading import LoadRow
from services.changes.models import Change
from tests.overhauls import hands
from tests.shelves import make_part

pytestmark = pytest.mark.django_db
JAN, JUN, DEC = datetime.date(2026, 1, 1), datetime.date(2026, 6, 1), datetime.date(2026, 12, 1)
ONE_DAY = datetime.timedelta(days=1)


@pytest.fixture
def owner(cast):
    return hands(cast)["data-owner"]


def chain(*numbers, day=JAN, both_ways=False):
    """Parts of which each replaces the one before."""
    parts = [make_part(number) for number in numbers]
    Supersession.objects.bulk_create(
        Supersession(old_id=old.pk, new_id=new.pk, from_date=day, both_ways=both_ways)
        for old, new in itertools.pairwise(parts)
    )
    return parts


def say(owner, old, new, status=201, **facts):
    body = {"old": str(old.pk), "new": str(new.pk), "from_date": JAN.isoformat(), **facts}
    return owner.post("supersessions", body, status=status)


def numbers(found):
    return [one["number"] for one in found]


class TestAChain:
    def test_is_answered_in_both_directions_nearest_first(self, owner):
        _, _, middle, _, _ = chain("A-1", "A-2", "A-3", "A-4", "A-5")
        answer = owner.get(f"parts/{middle.pk}/supersessions?on=2026-06-01")
        assert numbers(answer["replaced_by"]) == ["A-4", "A-5"]
        assert numbers(answer["replaces"]) == ["A-2", "A-1"]
        assert [one["steps"] for one in answer["replaced_by"]] == [1, 2]
        assert answer["newest"]["number"] == "A-5"
        assert {one["stands_in"] for one in answer["replaced_by"]} == {True}
        assert {one["stands_in"] for one in answer["replaces"]} == {False}

    def test_says_what_holds_on_the_day(self, owner):
        first, second, third = make_part("A-1"), make_part("A-2"), make_part("A-3")
        say(owner, first, second, both_ways=True)
        say(owner, second, third, from_date=JUN.isoformat(), until_date=DEC.isoformat())
        for day, newest, holds in ((JUN - ONE_DAY, "A-2", False), (JUN, "A-3", True), (DEC, "A-3", True),
                                   (DEC + ONE_DAY, "A-2", False)):  # fmt: skip
            answer = owner.get(f"parts/{first.pk}/supersessions?on={day}")
            assert answer["newest"]["number"] == newest, day
            assert [one["holds"] for one in answer["replaced_by"]] == [True, holds], day
            assert [one["stands_in"] for one in answer["replaced_by"]] == [True, holds], day
        assert owner.get(f"parts/{second.pk}/supersessions?on={JUN}")["replaces"][0]["stands_in"] is True

    def test_goes_on_over_numbers_that_differ_only_in_writing(self, owner):
        first, second = chain("OR 226", "OR 227")
        make_part("OR-227.")
        last = make_part("OR-228")
        say(owner, make_part("OR_227"), last)
        assert numbers(owner.get(f"parts/{first.pk}/supersessions")["replaced_by"]) == ["OR 227", "OR-228"]
        assert say(owner, last, first, status=422)["code"] == "supersession-cycle"
        assert second.number == "OR 227"

    def test_is_not_there_for_a_part_that_is_not(self, owner):
        owner.get("parts/0199a0c4-0000-7000-8000-000000000999/supersessions", status=404)
        assert owner.get(f"parts/{make_part('A-1').pk}/supersessions?on=soon", status=400)["code"] == "malformed"


class TestWithdrawing:
    def test_ends_it_and_says_so_in_the_feed(self, owner):
        first, second = make_part("A-1"), make_part("A-2")
        path = f"supersessions/{say(owner, first, second)['id']}"
        kept = owner.post(f"{path}/withdraw", {"last_day": "2026-05-31"}, seen=path)
        assert kept["until_date"] == "2026-05-31"
        assert owner.get(f"parts/{first.pk}/supersessions?on=2026-06-01")["newest"]["number"] == "A-1"
        assert owner.get(f"parts/{first.pk}/supersessions?on=2026-05-31")["newest"]["number"] == "A-2"
        told = Change.objects.get(kind="supersession.withdrawn")
        assert (str(told.noun_id), (told.body or {})["until_date"]) == (kept["id"], "2026-05-31")
        refused = owner.post(f"{path}/withdraw", {"last_day": "2026-07-01"}, seen=path, status=409)
        assert refused["code"] == "wrong-state"

    def test_today_counts_from_yesterday_and_one_yet_to_come_never_holds(self, owner):
        today = timezone.now().date()
        path = f"supersessions/{say(owner, make_part('A-1'), make_part('A-2'))['id']}"
        assert owner.post(f"{path}/withdraw", seen=path)["until_date"] == (today - ONE_DAY).isoformat()
        begins = today + 9 * ONE_DAY
        made = say(owner, make_part("B-1"), make_part("B-2"), from_date=begins.isoformat())
        path = f"supersessions/{made['id']}"
        assert owner.post(f"{path}/withdraw", seen=path)["until_date"] == (begins - ONE_DAY).isoformat()

    def test_lets_the_older_part_become_the_newer_one_afterwards(self, owner):
        first, second = make_part("A-1"), make_part("A-2")
        made = say(owner, first, second)
        again = {"old": str(second.pk), "new": str(first.pk), "from_date": JUN.isoformat()}
        assert owner.post("supersessions", again, status=422)["code"] == "supersession-cycle"
        path = f"supersessions/{made['id']}"
        owner.post(f"{path}/withdraw", {"last_day": (JUN - ONE_DAY).isoformat()}, seen=path)
        owner.post("supersessions", again, status=201)
        assert owner.get(f"parts/{first.pk}/supersessions?on={JAN}")["newest"]["number"] == "A-2"
        assert owner.get(f"parts/{second.pk}/supersessions?on={JUN}")["newest"]["number"] == "A-1"

    def test_an_end_before_the_beginning_is_refused(self, owner):
        refused = say(owner, make_part("A-1"), make_part("A-2"), status=422, until_date="2025-06-01")
        assert refused["errors"][0]["pointer"] == "#/until_date"


class TestManyAtOnce:
    def test_each_gets_its_newest_and_the_path_in_the_order_asked(self, owner):
        parts = chain("A-1", "A-2", "A-3")
        alone = make_part("ALONE")
        body = {"numbers": ["a 2", "nobody", "A.1"], "parts": [str(alone.pk), str(parts[2].pk)], "on": "2026-06-01"}
        found = owner.post("supersessions/resolve", body)["results"]
        assert [one["asked"] for one in found] == ["a 2", "nobody", "A.1", str(alone.pk), str(parts[2].pk)]
        assert [one["newest"] and one["newest"]["number"] for one in found] == ["A-3", None, "A-3", "ALONE", "A-3"]
        assert [numbers(one["path"]) for one in found][2] == ["A-1", "A-2", "A-3"]

    def test_takes_as_many_statements_for_a_thousand_as_for_two(self, cast):
        chain(*(f"N-{place}" for place in range(60)))
        client, counts = cast.client("reader"), []
        client.get("/api/v1/me")
        for some in (2, 1000):
            body = {"numbers": [f"n{place}" for place in range(some)]}
            with CaptureQueriesContext(connection) as captured:
                answer = client.post("/api/v1/supersessions/resolve", body, format="json")
            assert answer.status_code == 200
            counts.append(len([one for one in captured if "SAVEPOINT" not in one["sql"]]))
        assert counts[0] == counts[1]

    def test_more_than_a_thousand_or_none_are_refused(self, owner):
        for body in ({}, {"numbers": [str(place) for place in range(1001)]}):
            assert owner.post("supersessions/resolve", body, status=422)["errors"][0]["pointer"] == "#/numbers"


class TestLongChains:
    def test_two_hundred_links_are_answered_within_a_moment(self, owner):
        parts = chain(*(f"L-{place}" for place in range(201)))
        chain(*(f"OTHER-{place}" for place in range(50)))
        begun = time.perf_counter()
        answer = owner.get(f"parts/{parts[0].pk}/supersessions?on=2026-06-01")
        took = time.perf_counter() - begun
        assert len(answer["replaced_by"]) == 200
        assert answer["newest"]["number"] == "L-200"
        assert took < 1
        assert say(owner, parts[200], parts[0], status=422)["code"] == "supersession-cycle"

    def test_only_the_chains_asked_about_are_read(self):
        chain("A-1", "A-2")
        chain("B-1", "B-2", "B-3")
        assert set(chains_of(["a1"]).parts) == {"A1", "A2"}

    def test_a_circle_that_is_there_all_the_same_does_no_harm(self, owner):
        first, second, third = chain("C-1", "C-2", "C-3")
        Supersession.objects.create(old_id=third.pk, new_id=first.pk, from_date=JAN)
        answer = owner.get(f"parts/{second.pk}/supersessions?on=2026-06-01")
        assert numbers(answer["replaced_by"]) == ["C-3", "C-1"]
        assert answer["newest"]["number"] == "C-1"


class TestFiles:
    def load(self, cast, *rows):
        loaded = [
            LoadRow(place, {"old_number": old, "new_number": new, "from_date": day, "until_date": until})
            for place, (old, new, day, until) in enumerate(rows, 1)
        ]
        return load_supersessions(by=cast.by("data-owner"), rows=loaded)

    def test_the_row_that_closes_the_circle_is_refused_and_the_others_are_taken(self, cast):
        for number in ("A", "B", "C", "D"):
            make_part(number)
        done = self.load(
            cast, ("A", "B", JAN, None), ("B", "C", JAN, None), ("C", "A", JAN, None), ("C", "D", JAN, None)
        )
        assert [one.outcome for one in done] == ["created", "created", "refused", "created"]
        assert (done[2].problems[0].column, done[2].problems[0].value) == ("new_number", "A")
        assert Supersession.objects.count() == 3

    def test_a_change_of_days_that_would_close_one_is_refused_too(self, cast):
        make_part("A"), make_part("B")
        self.load(cast, ("A", "B", JAN, JUN), ("B", "A", DEC, None))
        done = self.load(cast, ("A", "B", DEC, DEC + ONE_DAY))
        assert [one.outcome for one in done] == ["refused"]
        assert Supersession.objects.get(old__item__number="A").until_date == JUN

    def test_the_same_file_twice_changes_nothing_and_keeps_a_known_end(self, cast):
        make_part("A"), make_part("B")
        assert [one.outcome for one in self.load(cast, ("A", "B", JAN, JUN))] == ["created"]
        again = self.load(cast, ("A", "B", JAN, None))
        assert (again[0].outcome, again[0].notes[0].column) == ("unchanged", "until_date")
        assert Supersession.objects.get().until_date == JUN

    def test_a_row_that_stands_twice_counts_once(self, cast):
        make_part("A"), make_part("B")
        done = self.load(cast, ("A", "B", JAN, None), ("A", "B", JUN, None), ("A", "B", JUN, None))
        assert [one.outcome for one in done] == ["created", "changed", "unchanged"]
        assert Supersession.objects.get().from_date == JUN
