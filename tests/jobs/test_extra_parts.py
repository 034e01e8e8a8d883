"""Parts beyond the kit for damage that was found: claimed, promised, taken, fitted, or brought back."""

import datetime

import pytest

from kits.models import Balance, Order, OrderLine, Reservation, Supplier
from kits.queries.movements import ledger_differences
from tests.jobs.test_overhaul import finished, measure, planned, ready, safe
from tests.overhauls import TODAY
from tests.shelves import make_part, put_on_shelf

pytestmark = pytest.mark.django_db


@pytest.fixture
def sleeve():
    return make_part("SLV-43")


def ask(hand, job, part, quantity="1", role="casing-o-ring", status=201, by="fitter", **more):
    body = {"part": str(part.pk), "quantity": quantity, "role": role, "reason": "scored by sand", **more}
    return hand[by].post(f"jobs/{job['id']}/extra-parts", body, status=status)


def give_back(hand, job, item, quantity="1", status=201, by="fitter", **more):
    body = {"item": str(item.pk), "quantity": quantity, "reason": "not needed", **more}
    return hand[by].post(f"jobs/{job['id']}/returns", body, status=status)


def lies(item):
    rows = Balance.objects.filter(item=item, on_hand__gt=0).order_by("lot__number")
    return [(one.lot.number, one.condition, int(one.on_hand), int(one.reserved)) for one in rows.select_related("lot")]


def test_a_part_on_the_shelf_is_held_at_once(cast, workshop, hand, sleeve):
    job = safe(workshop, hand)
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 2, lot="S-1", cured=None)
    asked = ask(hand, job, sleeve)
    assert (asked["state"], asked["claim"], asked["promised_on"]) == ("asked", "hard", None)
    assert lies(sleeve) == [("S-1", "usable", 2, 1)]


def test_no_part_at_all_is_neither_asked_for_nor_brought_back(workshop, hand, sleeve):
    job = safe(workshop, hand)
    assert ask(hand, job, sleeve, "0", status=422)["errors"][0]["pointer"] == "#/quantity"
    assert give_back(hand, job, sleeve, "0", status=422)["errors"][0]["pointer"] == "#/quantity"


def test_a_part_that_is_not_there_is_promised_by_what_is_on_order(workshop, hand, sleeve, cast):
    job = safe(workshop, hand)
    comes = TODAY + datetime.timedelta(days=9)
    order = Order.objects.create(
        number="O-7", site=cast.north, supplier=Supplier.objects.create(code="h", name="Harrow Sealing"), state="sent"
    )
    OrderLine.objects.create(
        order=order, line=1, item=sleeve, quantity=3, expected_on=comes, promised_on=comes, price=9, currency="EUR"
    )
    asked = ask(hand, job, sleeve)
    assert (asked["claim"], asked["promised_on"]) == ("soft", comes.isoformat())
    assert Reservation.objects.get(item=sleeve).state == "soft"


def test_what_nobody_can_promise_says_so_in_words(workshop, hand, sleeve):
    job = safe(workshop, hand)
    asked = ask(hand, job, sleeve)
    assert (asked["claim"], asked["promised_on"]) == ("soft", None)
    assert asked["promise"]


def test_a_part_not_in_hand_keeps_a_planned_job_from_being_ready(cast, workshop, hand, sleeve):
    job = ready(workshop, hand)
    asked = ask(hand, job, sleeve, by="planner")
    job = hand["planner"].get(f"jobs/{job['id']}")
    assert (job["state"], [one["code"] for one in job["state_reasons"]]) == ("planned", ["extra-part-not-reserved"])
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 1, lot="S-1", cured=None)
    hand["stores"].post(f"extra-parts/{asked['id']}/reserve")
    assert hand["planner"].get(f"jobs/{job['id']}")["state"] == "ready"


def test_a_part_taken_is_fitted_at_sign_off_from_its_lot(cast, workshop, hand, sleeve):
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 1, lot="S-1", cured=None)
    job = safe(workshop, hand)
    asked = ask(hand, job, sleeve)
    taken = hand["fitter"].post(f"extra-parts/{asked['id']}/take")
    assert (taken["state"], taken["claim"], taken["taken_by"]) == ("taken", "issued", "Fitter")
    assert [(one["lot_number"], one["quantity"]) for one in taken["taken_from"]] == [("S-1", "1.000")]
    assert lies(sleeve) == []
    again = hand["fitter"].post(f"extra-parts/{asked['id']}/take", status=409)
    assert again["code"] == "wrong-extra-part-state"
    done(workshop, hand, job)
    fitted = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts")["results"]
    assert sorted((one["part_number"], one["lot"]) for one in fitted) == [
        ("BRG-6308", "L-1"), ("OR-226-E", "L-1"), ("SLV-43", "S-1"),
    ]  # fmt: skip
    signed = hand["reader"].get(f"jobs/{job['id']}/sign-offs")["results"][-1]["content"]
    assert [one["part"] for one in signed["extra_parts"]] == [str(sleeve.pk)]


def done(workshop, hand, job):
    """The rest of a job that was made safe, through to its sign-off."""
    tools, address = workshop.instruments, f"jobs/{job['id']}"
    measure(hand, job, 20, "shaft-run-out", ["0", "0.01", "0.02", "0"], "mm", tools["dial"])
    hand["fitter"].post(f"{address}/steps/20/confirm")
    measure(hand, job, 30, "seat-diameter", ["40.008"] * 3, "mm", tools["micrometer"])
    measure(hand, job, 30, "room-temperature", ["18"], "degC", tools["thermometer"])
    hand["fitter"].post(f"{address}/steps/30/confirm")
    hand["supervisor"].post(f"{address}/steps/30/release", seen=f"{address}/steps/30")
    hand["fitter"].post(f"{address}/take-kit", status=201)
    for number in (40, 50):
        hand["fitter"].post(f"{address}/steps/{number}/confirm")
    hand["fitter"].post(f"{address}/finish", seen=address)
    return hand["supervisor"].post(f"{address}/sign-off", seen=address)


def test_two_needs_of_the_same_part_are_taken_one_by_one(cast, workshop, hand, sleeve):
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 2, lot="S-1", cured=None)
    job = safe(workshop, hand)
    first, second = ask(hand, job, sleeve), ask(hand, job, sleeve, role="bearing-de")
    assert lies(sleeve) == [("S-1", "usable", 2, 2)]
    hand["fitter"].post(f"extra-parts/{first['id']}/take")
    assert lies(sleeve) == [("S-1", "usable", 1, 1)]
    hand["fitter"].post(f"extra-parts/{second['id']}/withdraw", {"reason": "dressed instead"})
    assert lies(sleeve) == [("S-1", "usable", 1, 0)]
    assert Reservation.objects.get(item=sleeve).state == "issued"


def test_a_larger_claim_never_loses_what_was_held(cast, workshop, hand, sleeve):
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 1, lot="S-1", cured=None)
    job = safe(workshop, hand)
    ask(hand, job, sleeve)
    refused = ask(hand, job, sleeve, role="bearing-de", status=409)
    assert refused["code"] == "insufficient-stock"
    assert lies(sleeve) == [("S-1", "usable", 1, 1)]


def test_what_was_never_taken_is_let_go_at_sign_off(cast, workshop, hand, sleeve):
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 1, lot="S-1", cured=None)
    job = safe(workshop, hand)
    asked = ask(hand, job, sleeve)
    done(workshop, hand, job)
    assert hand["reader"].get(f"extra-parts/{asked['id']}")["state"] == "withdrawn"
    assert lies(sleeve) == [("S-1", "usable", 1, 0)]


def test_an_unknown_part_or_position_is_named(workshop, hand, sleeve):
    job = safe(workshop, hand)
    assert ask(hand, job, workshop.pump, status=422)["errors"][0]["pointer"] == "#/part"
    assert ask(hand, job, sleeve, role="wing-nut", status=422)["errors"][0]["pointer"] == "#/role"
    assert ask(hand, job, workshop.kit, status=422)["errors"][0]["pointer"] == "#/part"


def test_a_closed_job_asks_for_nothing(cast, workshop, hand, sleeve):
    job = safe(workshop, hand)
    done(workshop, hand, job)
    assert ask(hand, job, sleeve, status=409)["code"] == "wrong-job-state"


def test_an_unopened_extra_part_goes_back_to_its_lot_and_is_not_fitted(cast, workshop, hand, sleeve):
    put_on_shelf(cast.by("stores"), cast.north, sleeve, 1, lot="S-1", cured=None)
    job = safe(workshop, hand)
    asked = ask(hand, job, sleeve)
    hand["fitter"].post(f"extra-parts/{asked['id']}/take")
    back = give_back(hand, job, sleeve, extra_part=asked["id"])["returns"]
    assert [(one["lot"], one["condition"], one["by"]) for one in back] == [("S-1", "usable", "Fitter")]
    assert give_back(hand, job, sleeve, extra_part=asked["id"], status=422)["code"] == "too-much-returned"
    done(workshop, hand, job)
    fitted = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts")["results"]
    assert "SLV-43" not in [one["part_number"] for one in fitted]
    assert ledger_differences() == []


def test_a_loose_part_of_the_kit_waits_in_quarantine_until_stores_has_looked(cast, workshop, hand):
    job = safe(workshop, hand)
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    refused = give_back(hand, job, workshop.o_ring, condition="usable", status=403)
    assert refused["code"] == "not-allowed"
    give_back(hand, job, workshop.o_ring)
    assert lies(workshop.o_ring) == [(f"L-1/{job['number']}", "quarantined", 1, 0)]
    give_back(hand, job, workshop.bearing, by="stores", condition="usable", bin="MAIN")
    assert lies(workshop.bearing) == [(f"L-1/{job['number']}", "usable", 1, 0)]
    assert give_back(hand, job, workshop.o_ring, status=422)["code"] == "too-much-returned"


def test_an_unopened_kit_goes_back_whole_and_another_can_be_taken(workshop, hand):
    job = safe(workshop, hand)
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    give_back(hand, job, workshop.kit)
    assert lies(workshop.kit) == [("L-1", "usable", 1, 0)]
    hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    assert lies(workshop.kit) == []


def test_a_kit_of_which_a_part_came_back_is_not_whole(workshop, hand):
    job = safe(workshop, hand)
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    give_back(hand, job, workshop.o_ring)
    assert give_back(hand, job, workshop.kit, status=422)["errors"][0]["pointer"] == "#/item"


def test_what_came_back_during_the_job_counts_at_its_sign_off(cast, workshop, hand):
    job = finished(cast, workshop, hand)
    give_back(hand, job, workshop.o_ring)
    too_much = {"returned": [{"part": str(workshop.o_ring.pk), "quantity": "1"}]}
    refused = hand["supervisor"].post(f"jobs/{job['id']}/sign-off", too_much, seen=f"jobs/{job['id']}", status=422)
    assert refused["errors"][0]["pointer"] == "#/returned"
    hand["supervisor"].post(f"jobs/{job['id']}/sign-off", seen=f"jobs/{job['id']}")
    fitted = hand["reader"].get(f"pumps/{workshop.pump.pk}/fitted-parts")["results"]
    assert [one["role"] for one in fitted] == ["bearing-de"]
    signed = hand["reader"].get(f"jobs/{job['id']}/sign-offs")["results"][-1]["content"]
    assert [one["part"] for one in signed["returns"]] == [str(workshop.o_ring.pk)]


def test_what_a_cancelled_job_had_taken_comes_back(workshop, hand):
    job = safe(workshop, hand)
    hand["fitter"].post(f"jobs/{job['id']}/take-kit", status=201)
    hand["planner"].post(f"jobs/{job['id']}/cancel", {"reason": "replaced"}, seen=f"jobs/{job['id']}")
    give_back(hand, job, workshop.kit)
    assert lies(workshop.kit) == [("L-1", "usable", 1, 0)]


def test_nothing_comes_back_from_a_job_that_took_nothing(workshop, hand):
    job = safe(workshop, hand)
    assert give_back(hand, job, workshop.o_ring, status=422)["code"] == "too-much-returned"
    assert give_back(hand, planned(workshop, hand), workshop.o_ring, status=409)["code"] == "wrong-job-state"
