"""Count sheets: counted blind, reviewed by somebody else, posted once."""

import datetime
import uuid

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from kits.models import Balance, Count, CountEntry, CountLine, CountSettings, Lot, Movement, Reservation
from kits.queries.movements import ledger_differences
from tests.counting import act, at_hand, counted_sheet, enter, hold, line_of, make, move, no_second_person
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast, make_principal

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    found = gather_cast()
    found.people["second-stores"] = make_principal("second-stores", ("stores", found.north))
    return found


@pytest.fixture
def shelves(cast):
    found = fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, found.kit, 5, lot="K-1")
    put_on_shelf(cast.by("stores"), cast.north, found.bearing, 8, lot="B-1", cured=None)
    return found


def test_a_sheet_lists_the_shelves_and_never_tells_who_counts_what_the_book_says(cast, shelves, hand):
    sheet = make(hand, cast)
    assert (sheet["state"], sheet["blind"], sheet["line_count"]) == ("open", True, 2)
    assert [(one["bin_code"], one["item_number"], one["lot_number"]) for one in sheet["lines"]] == [
        ("MAIN", "BRG-40", "B-1"),
        ("MAIN", "K-100", "K-1"),
    ]
    for who in ("fitter", "stores", "admin", "reader"):
        read = hand[who].get(f"counts/{sheet['id']}")
        for one in read["lines"]:
            assert {one[name] for name in ("book", "difference", "value", "quantity")} == {None}, who
    entered = enter(hand, sheet, {"K-100": 4}, who="stores")
    assert line_of(entered, shelves.kit)["quantity"] == "4.000"
    assert line_of(entered, shelves.kit)["book"] is None
    assert entered["totals"] == []


def test_nothing_an_entry_answers_hangs_on_what_the_book_says(cast, shelves, hand):
    sheet = make(hand, cast)
    answers = []
    for quantity in (0, 4, 5, 900):
        answer = enter(hand, sheet, {"K-100": quantity})
        line = line_of(answer, shelves.kit) | {"quantity": None, "counted_at": None}
        answers.append((line, answer["state"], answer["totals"], answer["counted_lines"]))
    assert all(one == answers[0] for one in answers)


def test_of_two_entries_the_one_counted_last_stands_whichever_arrives_last(cast, shelves, hand):
    sheet = make(hand, cast)
    first, second = timezone.now(), timezone.now()
    enter(hand, sheet, {"K-100": 4}, counted_at=second.isoformat())
    answer = enter(hand, sheet, {"K-100": 9}, who="supervisor", counted_at=first.isoformat())
    line = line_of(answer, shelves.kit)
    assert (line["quantity"], line["counted_by_name"]) == ("4.000", "Fitter")
    assert sorted(CountEntry.objects.values_list("quantity", flat=True)) == [4, 9]


def test_a_sheet_that_is_not_blind_shows_the_book(cast, shelves, hand):
    sheet = make(hand, cast, blind=False)
    assert line_of(hand["fitter"].get(f"counts/{sheet['id']}"), shelves.kit)["book"] == "5.000"


def test_a_count_that_agrees_is_posted_without_any_movement(cast, shelves, hand):
    before = Movement.objects.count()
    sheet = counted_sheet(hand, cast, 5)
    assert sheet["state"] == "counted"
    posted = act(hand, sheet, "post")
    assert posted["state"] == "posted"
    assert Movement.objects.count() == before
    assert Balance.objects.filter(counted_at=None).count() == 0


def test_whoever_reviews_sees_book_difference_and_value_and_whoever_counted_does_not(cast, shelves, hand):
    no_second_person(cast)
    sheet = counted_sheet(hand, cast, 3)
    assert sheet["state"] == "counted"
    seen = hand["stores"].get(f"counts/{sheet['id']}")
    line = line_of(seen, shelves.kit)
    assert (line["book"], line["difference"], line["value"], line["currency"]) == (
        "5.000", "-2.000", "-369.0000", "EUR",
    )  # fmt: skip
    assert seen["totals"] == [{"currency": "EUR", "found": "0.0000", "missing": "369.0000", "together": "-369.0000"}]
    assert line_of(hand["fitter"].get(f"counts/{sheet['id']}"), shelves.kit)["book"] is None


def test_posting_writes_one_adjustment_that_names_the_line(cast, shelves, hand):
    no_second_person(cast)
    sheet = counted_sheet(hand, cast, 3)
    act(hand, sheet, "post", {"reason": "two were in the van"})
    made = Movement.objects.get(kind="count-adjustment")
    line = CountLine.objects.get(count_id=sheet["id"], item=shelves.kit)
    assert (made.quantity, made.count_line_id, made.occurred_at) == (-2, line.pk, line.counted_at)
    assert made.reason == f"count {sheet['number']}, line {line.line}"
    assert (line.book, line.difference, at_hand(shelves.kit)) == (5, -2, 3)
    assert line_of(hand["fitter"].get(f"counts/{sheet['id']}"), shelves.kit)["book"] == "5.000"
    assert ledger_differences() == []


def test_a_count_is_posted_once(cast, shelves, hand):
    no_second_person(cast)
    sheet = counted_sheet(hand, cast, 3)
    act(hand, sheet, "post")
    assert act(hand, sheet, "post", status=409)["code"] == "wrong-count-state"
    assert act(hand, sheet, "cancel", {"reason": "no"}, status=409)["code"] == "wrong-count-state"
    assert Movement.objects.filter(kind="count-adjustment").count() == 1


def test_the_database_keeps_what_an_ended_count_said(cast, shelves, hand):
    sheet = counted_sheet(hand, cast, 5)
    act(hand, sheet, "post")
    for change in (
        lambda: Count.objects.filter(pk=sheet["id"]).update(blind=False),
        lambda: CountLine.objects.filter(count_id=sheet["id"]).update(quantity=9),
        lambda: CountLine.objects.filter(count_id=sheet["id"]).delete(),
        lambda: CountEntry.objects.all().delete(),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_every_line_must_be_counted_before_a_sheet_is_handed_in(cast, shelves, hand):
    sheet = make(hand, cast)
    enter(hand, sheet, {"K-100": 5})
    refused = act(hand, sheet, "submit", who="fitter", status=409)
    assert (refused["code"], refused["lines"]) == ("lines-uncounted", [line_of(sheet, shelves.bearing)["line"]])


def test_a_large_difference_is_counted_again_by_another_person_who_does_not_see_the_first_count(cast, shelves, hand):
    # Common practice, no source: without a limit every difference is large.
    sheet = counted_sheet(hand, cast, 4)
    assert (sheet["state"], sheet["round"]) == ("open", 2)
    line = line_of(sheet, shelves.kit)
    assert (line["state"], line["quantity"], line["not_by_name"]) == ("recount", None, "Fitter")
    assert line_of(sheet, shelves.bearing)["state"] == "counted"
    assert enter(hand, sheet, {"K-100": 5}, status=403)["code"] == "another-person-needed"
    assert enter(hand, sheet, {"BRG-40": 7}, who="supervisor", status=409)["code"] == "wrong-count-state"
    enter(hand, sheet, {"K-100": 4}, who="supervisor")
    assert act(hand, sheet, "submit", who="supervisor")["state"] == "counted"
    act(hand, sheet, "post")
    assert at_hand(shelves.kit) == 4
    assert CountEntry.objects.filter(line__item=shelves.kit).count() == 2


def test_a_difference_below_the_limit_is_not_counted_again(cast, shelves, hand):
    CountSettings.objects.create(site=cast.north, value_limit=10, currency="EUR")
    sheet = counted_sheet(hand, cast, 5, bearings=6)  # two bearings at 4.20
    assert sheet["state"] == "counted"


def test_lines_are_sent_back_and_counted_by_another_person(cast, shelves, hand):
    no_second_person(cast)
    sheet = counted_sheet(hand, cast, 4)
    kit = line_of(sheet, shelves.kit)["line"]
    back = act(hand, sheet, "send-back", {"lines": [kit], "reason": "look behind the shelf"})
    assert line_of(back, shelves.kit)["recount_reason"] == "look behind the shelf"
    assert line_of(back, shelves.bearing)["book"] is None
    assert enter(hand, sheet, {"K-100": 5}, status=403)["code"] == "another-person-needed"
    enter(hand, sheet, {"K-100": 5}, who="second-fitter")
    act(hand, sheet, "submit", who="second-fitter")
    act(hand, sheet, "post")
    assert at_hand(shelves.kit) == 5
    refused = act(hand, make(hand, cast), "send-back", {"lines": [1], "reason": "no"}, status=409)
    assert refused["code"] == "wrong-count-state"


def test_who_counted_does_not_post_a_large_difference_alone(cast, shelves, hand):
    sheet = make(hand, cast)
    enter(hand, sheet, {"K-100": 4, "BRG-40": 8})
    act(hand, sheet, "submit", who="fitter")
    enter(hand, sheet, {"K-100": 4}, who="stores")
    act(hand, sheet, "submit")
    refused = act(hand, sheet, "post", status=403)
    assert (refused["code"], refused["lines"]) == ("another-person-needed", [line_of(sheet, shelves.kit)["line"]])
    assert at_hand(shelves.kit) == 5
    act(hand, sheet, "post", who="second-stores")
    assert at_hand(shelves.kit) == 4


def test_what_was_found_gets_a_line_and_its_lot_is_made_when_it_is_posted(cast, shelves, hand):
    no_second_person(cast)
    sheet = make(hand, cast, items=[str(shelves.bearing.pk)])
    found = {"item": str(shelves.o_ring.pk), "lot": "O-7", "quantity": "2"}
    refused = hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": [found]}, status=422)
    assert (refused["code"], refused["errors"][0]["pointer"]) == ("cure-date-missing", "#/entries/0/cure_date")
    entries = [found | {"cure_date": "3Q2025"}, {"line": 1, "quantity": "8"}]
    answer = hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": entries}, status=200)
    line = line_of(answer, shelves.o_ring)
    assert (line["found"], line["lot"], line["lot_number"]) == (True, None, "O-7")
    assert not Lot.objects.filter(number="O-7").exists()
    act(hand, sheet, "submit", who="fitter")
    act(hand, sheet, "post")
    assert Lot.objects.get(number="O-7").cure_date == datetime.date(2025, 9, 30)
    assert at_hand(shelves.o_ring) == 2


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        ({"bin": "Z-9"}, "/bin"),
        ({"item": str(uuid.UUID(int=9))}, "/item"),
        ({"lot": ""}, "/lot"),
        ({"quantity": "0"}, "/quantity"),
        ({"quantity": "-1"}, "/quantity"),
        ({"counted_at": "2020-01-01T00:00:00Z"}, "/counted_at"),
        ({"counted_at": "2999-01-01T00:00:00Z"}, "/counted_at"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_and_its_field_named(cast, shelves, hand, wrong, pointer):
    sheet = make(hand, cast, items=[str(shelves.kit.pk)])
    entry = {"item": str(shelves.bearing.pk), "lot": "B-9", "quantity": "1", **wrong}
    refused = hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": [entry]}, status=422)
    assert refused["errors"][0]["pointer"] == f"#/entries/0{pointer}"
    assert CountLine.objects.filter(count_id=sheet["id"]).count() == 1


def test_a_shelf_stands_on_one_live_sheet_at_a_time(cast, shelves, hand):
    first = make(hand, cast, items=[str(shelves.kit.pk)])
    second = make(hand, cast)
    assert [one["item_number"] for one in second["lines"]] == ["BRG-40"]
    refused = make(hand, cast, status=422)
    assert first["number"] in refused["detail"]
    found = {"item": str(shelves.kit.pk), "lot": "K-1", "quantity": "2"}
    refused = hand["fitter"].post(f"counts/{second['id']}/entries", {"entries": [found]}, status=409)
    assert refused["code"] == "already-there"
    act(hand, first, "cancel", {"reason": "rain"})
    assert make(hand, cast)["line_count"] == 1


def test_a_sheet_is_made_of_bins_or_of_what_the_plan_wants(cast, shelves, hand):
    assert make(hand, cast, bins=["Z-9"], status=422)["errors"][0]["pointer"] == "#/bins/0"
    both = {"bins": ["MAIN"], "items": [str(shelves.kit.pk)]}
    assert make(hand, cast, status=422, **both)["errors"][0]["pointer"] == "#/items"
    planned = make(hand, cast, planned_until=(timezone.now().date() + datetime.timedelta(days=9)).isoformat())
    assert planned["line_count"] == 2


def test_a_decision_names_the_version_it_was_made_on(cast, shelves, hand):
    sheet = make(hand, cast)
    seen = hand["fitter"].client.get(f"/api/v1/counts/{sheet['id']}").headers["ETag"]
    enter(hand, sheet, {"K-100": 5, "BRG-40": 8})
    answer = hand["fitter"].client.post(
        f"/api/v1/counts/{sheet['id']}/submit", {}, format="json", headers={"If-Match": seen}
    )
    assert answer.status_code == 412


def test_a_loss_of_reserved_lots_is_reserved_elsewhere_or_released(cast, shelves, hand):
    no_second_person(cast)
    first, second = hold(cast, shelves.kit, 3), hold(cast, shelves.kit, 2)
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 2, lot="K-2")
    sheet = make(hand, cast)
    entries = [
        {"line": one["line"], "quantity": {"K-1": "0", "K-2": "2", "B-1": "8"}[one["lot_number"]]}
        for one in sheet["lines"]
    ]
    hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": entries}, status=200)
    act(hand, sheet, "submit", who="fitter")
    act(hand, sheet, "post")
    states = {Reservation.objects.get(pk=one.pk).state for one in (first, second)}
    assert states == {"soft", "hard"}
    assert dict(Balance.objects.filter(item=shelves.kit).values_list("lot__number", "on_hand")) == {"K-1": 0, "K-2": 2}
    assert ledger_differences() == []


def test_a_count_that_later_issues_contradict_is_refused(cast, shelves, hand):
    no_second_person(cast)
    sheet = make(hand, cast)
    enter(hand, sheet, {"K-100": 1, "BRG-40": 8})
    act(hand, sheet, "submit", who="fitter")
    move(hand, cast, shelves.kit, "issue", 2)
    refused = act(hand, sheet, "post", status=409)
    assert (refused["code"], refused["lines"]) == ("count-contradicted", [line_of(sheet, shelves.kit)["line"]])
    assert at_hand(shelves.kit) == 3
