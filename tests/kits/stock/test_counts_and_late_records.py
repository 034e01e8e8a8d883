"""What moves while a sheet is out, and what is recorded only after it was posted."""

from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Balance, Movement, Reservation
from kits.queries.movements import ledger_differences
from tests.counting import act, at_hand, counted_sheet, hold, line_of, move, no_second_person
from tests.shelves import fill_catalogue, put_on_shelf

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelves(cast):
    found = fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, found.kit, 5, lot="K-1")
    put_on_shelf(cast.by("stores"), cast.north, found.bearing, 8, lot="B-1", cured=None)
    return found


def test_what_moves_between_counting_and_posting_is_neither_lost_nor_doubled(cast, shelves, hand):
    no_second_person(cast)
    sheet = counted_sheet(hand, cast, 4)
    move(hand, cast, shelves.kit, "issue", 1)
    move(hand, cast, shelves.kit, "receipt", 3)
    assert line_of(hand["stores"].get(f"counts/{sheet['id']}"), shelves.kit)["difference"] == "-1.000"
    act(hand, sheet, "post")
    assert at_hand(shelves.kit) == 4 - 1 + 3


def test_an_issue_before_the_count_recorded_before_posting_is_seen_in_the_book(cast, shelves, hand):
    no_second_person(cast)
    before = timezone.now()
    sheet = counted_sheet(hand, cast, 4)
    move(hand, cast, shelves.kit, "issue", 1, at=before)
    assert line_of(hand["stores"].get(f"counts/{sheet['id']}"), shelves.kit)["difference"] == "0.000"
    act(hand, sheet, "post")
    assert at_hand(shelves.kit) == 4


def test_an_issue_before_the_count_recorded_after_posting_is_not_taken_twice(cast, shelves, hand):
    no_second_person(cast)
    before = timezone.now()
    act(hand, counted_sheet(hand, cast, 4), "post")
    made = move(hand, cast, shelves.kit, "issue", 1, at=before)
    assert [(one["kind"], Decimal(one["quantity"])) for one in made] == [("issue", -1), ("count-adjustment", 1)]
    assert "after what was recorded late happened" in made[1]["reason"]
    assert at_hand(shelves.kit) == 4
    move(hand, cast, shelves.kit, "issue", 1)
    assert at_hand(shelves.kit) == 3
    assert ledger_differences() == []


def test_a_late_issue_of_the_last_one_that_a_count_missed_already_is_recorded(cast, shelves, hand):
    no_second_person(cast)
    before = timezone.now()
    act(hand, counted_sheet(hand, cast, 0), "post")
    move(hand, cast, shelves.kit, "issue", 5, at=before)
    assert at_hand(shelves.kit) == 0


def test_a_reversal_after_the_count_corrects_the_book_and_not_the_shelf(cast, shelves, hand):
    no_second_person(cast)
    wrong, other = (move(hand, cast, shelves.kit, "issue", 1)[0] for _ in range(2))
    sheet = counted_sheet(hand, cast, 5)
    hand["stores"].post(f"stock-movements/{wrong['id']}/reverse", {"reason": "wrong lot"}, status=201)
    assert line_of(hand["stores"].get(f"counts/{sheet['id']}"), shelves.kit)["difference"] == "1.000"
    act(hand, sheet, "post")
    assert at_hand(shelves.kit) == 5
    hand["stores"].post(f"stock-movements/{other['id']}/reverse", {"reason": "wrong lot"}, status=201)
    assert at_hand(shelves.kit) == 5
    assert ledger_differences() == []


def test_a_late_scrap_that_the_count_saw_takes_no_job_its_kit(cast, shelves, hand):
    no_second_person(cast)
    before = timezone.now()
    act(hand, counted_sheet(hand, cast, 2), "post")
    claim = hold(cast, shelves.kit, 2)
    move(hand, cast, shelves.kit, "scrap", 3, at=before)
    assert Reservation.objects.get(pk=claim.pk).state == "hard"
    assert at_hand(shelves.kit) == 2


def test_an_adjustment_that_is_reversed_makes_the_shelf_due_again(cast, shelves, hand):
    no_second_person(cast)
    act(hand, counted_sheet(hand, cast, 4), "post")
    made = Movement.objects.get(kind="count-adjustment")
    hand["stores"].post(f"stock-movements/{made.pk}/reverse", {"reason": "counted the wrong bin"}, status=201)
    assert at_hand(shelves.kit) == 5
    assert Balance.objects.get(item=shelves.kit).counted_at is None
    assert ledger_differences() == []
