"""Scarce kits for many jobs: who gets one, who waits for what until when, and what the order costs."""

import datetime
from decimal import Decimal

import pytest

from kits.models import Reservation
from kits.operations import reservations
from tests.kits.stock.test_stock_projection import TODAY, claim, day, order, place, stock
from tests.overhauls import Hand
from tests.shelves import some_job
from tests.world import make_site

pytestmark = pytest.mark.django_db


def wanted(cast, shelves, on, criticality):
    number = claim(cast, shelves, 1, on)
    Reservation.objects.filter(job_number=number).update(criticality=criticality)
    return number


def test_the_vital_pump_gets_the_last_kit_and_the_other_waits_for_the_order(cast, shelves, reader):
    stock(cast, shelves, 1, "L-1")
    order(cast, shelves, 1, 30)
    early = wanted(cast, shelves, 5, "desirable")
    vital = wanted(cast, shelves, 9, "vital")
    last = wanted(cast, shelves, 12, "")
    answer = reader.get(f"{place(cast, shelves)}/allocation")
    assert [(one["job_number"], one["on"], one["waits_days"]) for one in answer["claims"]] == [
        (vital, day(9), 0),
        (early, day(30), 25),
        (last, None, None),
    ]
    late = answer["claims"][1]
    assert (late["waits_for"], late["behind"]) == (["O-1"], [vital])
    assert late["why"] == f"On {day(5)} {vital} comes first. Served on {day(30)}, with O-1."
    assert (Decimal(answer["asked"]), Decimal(answer["on_their_day"])) == (3, 1)
    waiting = reader.get(f"sites/{cast.north.pk}/waiting-jobs")
    assert [(one["item_number"], one["job_number"]) for one in waiting["waiting"]] == [
        ("K-100", early),
        ("K-100", last),
    ]


def test_what_the_order_costs_is_said(cast, shelves, reader):
    order(cast, shelves, 1, 30)
    wanted(cast, shelves, 5, "vital")
    wanted(cast, shelves, 30, "desirable")
    answer = reader.get(f"sites/{cast.north.pk}/waiting-jobs")
    assert (Decimal(answer["on_their_day"]), Decimal(answer["on_their_day_at_most"])) == (0, 1)
    assert "By date alone it would be 1 more" in answer["words"]


def test_where_nobody_waits_nothing_is_listed(cast, shelves, reader):
    assert reader.get(f"sites/{cast.north.pk}/waiting-jobs")["waiting"] == []
    stock(cast, shelves, 1, "L-1")
    claim(cast, shelves, 1, 5)
    answer = reader.get(f"sites/{cast.north.pk}/waiting-jobs")
    assert (answer["waiting"], answer["words"]) == ([], "Served on their day: 1 of 1.")
    reader.get(f"sites/{cast.south.pk}/waiting-jobs", status=404)
    reader.get(f"{place(cast, shelves)}/allocation?unknown=1", status=400)


def test_it_costs_the_same_however_many_claims_there_are(cast, shelves, reader, django_assert_max_num_queries):
    for number in range(6):
        stock(cast, shelves, 1, f"L-{number}", dies=10 + number)
        order(cast, shelves, 1, 30 + number, number=f"O-{number}")
        claim(cast, shelves, 2, 20 + number)
    with django_assert_max_num_queries(14):
        reader.get(f"sites/{cast.north.pk}/waiting-jobs")


def test_over_all_of_ones_sites_and_no_other(cast, shelves, reader, django_assert_max_num_queries):
    order(cast, shelves, 1, 30)
    number = wanted(cast, shelves, 5, "vital")
    mill = make_site("mill")
    job_id, other = some_job()
    reservations.plan(
        by=cast.by("chief"), job_id=job_id, job_number=other, site_id=mill.pk, item_id=shelves.kit.pk,
        quantity=Decimal(1), need_date=TODAY + datetime.timedelta(days=3),
    )  # fmt: skip
    path = f"items/{shelves.kit.pk}/allocation"
    (here,) = reader.get(path)["sites"]
    assert [(one["job_number"], one["on"]) for one in here["claims"]] == [(number, day(30))]
    chief = Hand(cast.client("chief"))
    with django_assert_max_num_queries(13):
        answer = chief.get(path)
    assert [one["site_code"] for one in answer["sites"]] == ["mill", "north"]
    assert [one["job_number"] for one in answer["sites"][0]["claims"]] == [other]
    assert Decimal(answer["asked"]) == 2
    assert Hand(cast.client("stranger")).get(path)["sites"] == []
