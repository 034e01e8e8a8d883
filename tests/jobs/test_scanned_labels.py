"""What a fitter sees who scans a label: the thing, what must be said first, what is needed next."""

import datetime
import html
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assets.models import Bin, Fluid, Pump
from jobs.calculations.label_codes import grouped
from jobs.operations.jobs import plan_job, reserve_kit
from jobs.operations.labels import make_labels, void_label
from jobs.queries.labels import Thing
from kits.models import Balance, FitResult, Lot
from kits.operations.movements import Entry, post_movements
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()


@pytest.fixture
def codes(cast, workshop):
    things = {
        "kit": workshop.kit.pk,
        "lot": Lot.objects.get(number="L-1").pk,
        "pump": workshop.pump.pk,
        "bin": Bin.objects.get(site=cast.north).pk,
    }
    with transaction.atomic():
        ids, _ = make_labels(by=cast.by("stores"), things=[Thing(kind, pk) for kind, pk in things.items()])
    from_id = dict(zip(ids, things, strict=True))
    rows = cast.client("stores").get("/api/v1/labels").json()["results"]
    return {from_id[type(ids[0])(one["id"])]: one["code"] for one in rows}


def said(found):
    return [(one["signal_word"], one["code"]) for one in found["warnings"]]


def lay(cast, item, lot, *, days, quantity=1):
    put_on_shelf(cast.by("stores"), cast.north, item, quantity, lot=lot)
    Lot.objects.filter(number=lot).update(expires_on=TODAY + datetime.timedelta(days=days))


def quarantine(cast, lot):
    balance = Balance.objects.get(lot__number=lot)
    pair: dict[str, Any] = {"site_id": balance.site_id, "item_id": balance.item_id, "lot_id": balance.lot_id}
    with transaction.atomic():
        post_movements(
            by=cast.by("stores"),
            entries=[
                Entry(
                    "condition-change", quantity=Decimal(sign), condition=condition, occurred_at=timezone.now(), **pair
                )
                for sign, condition in ((-1, "usable"), (1, "quarantined"))
            ],
        )


def test_a_kit_shows_its_lots_first_expired_first_and_the_pumps_it_fits(cast, workshop, hand, codes):
    lay(cast, workshop.kit, "LATE", days=900)
    lay(cast, workshop.kit, "SOON", days=200)
    lay(cast, workshop.kit, "GONE", days=-1)
    lay(cast, workshop.kit, "HELD", days=300)
    quarantine(cast, "HELD")
    found = hand["fitter"].get(f"scanned-labels/{codes['kit']}")
    kit = found["kit"]
    assert (kit["number"], kit["revision"], kit["scope"]) == ("KIT-NB", "A", "full-overhaul")
    # What has no expiry comes last: L-1 does not age.
    assert [one["lot_number"] for one in kit["lots"]] == ["SOON", "LATE", "L-1"]
    assert [one["days_left"] for one in kit["lots"]] == [200, 900, None]
    assert [one["lot_number"] for one in kit["not_to_be_fitted"]] == ["GONE", "HELD"]
    assert said(found) == [("warning", "lot-quarantined"), ("warning", "lot-expired")]
    assert "Do not fit" in found["warnings"][0]["text"]
    assert [(one["tag"], one["criticality"], one["verdict"]) for one in kit["pumps"]] == [("P-117", "vital", "fits")]
    assert [(one["code"], one["revision"]) for one in kit["procedures"]] == [("PULL-OUT", 1)]
    assert kit["jobs"] == []


def another_pump(base, tag, criticality, **changes):
    fields = {
        "site": base.site, "tag": tag, "serial_number": tag, "pump_model": base.pump_model, "fluid": base.fluid,
        "temperature_min_c": 5, "temperature_max_c": 9, "criticality": criticality, "build_class": base.build_class,
    }  # fmt: skip
    return Pump.objects.create(**fields | changes)


def test_the_most_critical_pumps_come_first_and_no_more_than_twenty(cast, workshop, hand, codes):
    for number in range(25):
        another_pump(workshop.pump, f"D-{number:02}", "desirable")
    another_pump(workshop.pump, "E-1", "essential")
    another_pump(workshop.pump, "W-1", "vital", state="withdrawn")
    another_pump(workshop.pump, "S-1", "vital", site=cast.south)
    kit = hand["fitter"].get(f"scanned-labels/{codes['kit']}")["kit"]
    assert [one["tag"] for one in kit["pumps"]][:3] == ["P-117", "E-1", "D-00"]
    assert (len(kit["pumps"]), kit["more_pumps"]) == (20, True)


def test_pumps_in_which_a_material_would_fail_stand_apart(cast, workshop, hand, codes):
    FitResult.objects.update(verdict="unsuitable")
    kit = hand["fitter"].get(f"scanned-labels/{codes['kit']}")["kit"]
    assert (kit["pumps"], [one["tag"] for one in kit["unsuitable_for"]]) == ([], ["P-117"])


def test_a_lot_says_where_it_lies_how_long_it_may_be_used_and_for_whom_it_is_held(cast, workshop, hand, codes):
    Lot.objects.filter(number="L-1").update(expires_on=TODAY + datetime.timedelta(days=40))
    with transaction.atomic():
        job = plan_job(by=cast.by("planner"), pump_id=workshop.pump.pk, kit_id=workshop.kit.pk, planned_start=TODAY)
        reserve_kit(by=cast.by("planner"), job_id=job.pk)
    found = hand["fitter"].get(f"scanned-labels/{codes['lot']}")
    lot = found["lot"]
    assert (lot["number"], lot["item_number"], lot["days_left"]) == ("L-1", "KIT-NB", 40)
    assert [(one["site_code"], one["bin_code"], one["on_hand"]) for one in lot["places"]] == [("north", "MAIN", "1")]
    assert [(one["number"], one["quantity"]) for one in lot["held_for"]] == [(job.number, "1")]
    assert said(found) == [("notice", "lot-expiring")]
    assert "40 days left" in found["warnings"][0]["text"]
    assert [one["tag"] for one in found["kit"]["pumps"]] == ["P-117"]
    assert [one["number"] for one in found["kit"]["jobs"]] == [job.number]


def test_a_lot_that_must_not_be_fitted_says_so_before_anything_else(cast, workshop, hand, codes):
    quarantine(cast, "L-1")
    Lot.objects.filter(number="L-1").update(expires_on=TODAY - datetime.timedelta(days=1))
    found = hand["fitter"].get(f"scanned-labels/{codes['lot']}")
    assert said(found) == [("warning", "lot-expired"), ("warning", "lot-quarantined")]
    assert found["kit"]["lots"] == []


def test_on_its_last_day_a_lot_may_be_fitted(cast, workshop, hand, codes):
    Lot.objects.filter(number="L-1").update(expires_on=TODAY)
    found = hand["fitter"].get(f"scanned-labels/{codes['lot']}")
    assert found["lot"]["places"][0]["may_be_fitted"]
    assert said(found) == [("notice", "lot-expiring")]


def test_a_lot_of_a_part_has_no_kit(cast, workshop, hand):
    lot = put_on_shelf(cast.by("stores"), cast.north, workshop.o_ring, 4, lot="R-1", cured=None)
    made = hand["stores"].post("labels", {"things": [{"kind": "lot", "id": str(lot.pk)}]})["labels"][0]
    found = hand["fitter"].get(f"scanned-labels/{made['code']}")
    assert (found["lot"]["item_kind"], found["kit"]) == ("part", None)


def test_a_pump_says_its_hazard_and_offers_the_best_kits(cast, workshop, hand, codes):
    Fluid.objects.update(hazard="Scalds: 90 °C under pressure.")
    found = hand["fitter"].get(f"scanned-labels/{codes['pump']}")
    assert said(found) == [("danger", "make-safe"), ("warning", "fluid-hazard"), ("caution", "fluid-temperature")]
    texts = " ".join(one["text"] for one in found["warnings"])
    assert "Scalds: 90 °C under pressure." in texts
    assert "60 to 90 °C" in texts
    assert "lock and tag" in texts
    pump = found["pump"]
    assert (pump["tag"], pump["designation"], pump["site_code"]) == ("P-117", "65-40-200", "north")
    assert [(one["number"], one["verdict"], one["free_at_site"]) for one in pump["kits"]] == [("KIT-NB", "fits", "1")]
    assert [one["code"] for one in pump["procedures"]] == ["PULL-OUT"]


def test_a_fluid_without_a_recorded_hazard_is_not_called_harmless(hand, codes):
    found = hand["fitter"].get(f"scanned-labels/{codes['pump']}")
    assert "No hazard is recorded" in found["warnings"][1]["text"]


def test_a_bin_lists_what_lies_in_it(cast, workshop, hand, codes):
    lay(cast, workshop.o_ring, "OLD", days=-10)
    found = hand["fitter"].get(f"scanned-labels/{codes['bin']}")
    assert [(one["item_number"], one["lot_number"]) for one in found["bin"]["contents"]] == [
        ("OR-226-E", "OLD"),
        ("KIT-NB", "L-1"),
    ]
    assert said(found) == [("warning", "lot-expired")]


def test_a_code_is_taken_as_it_was_scanned_or_typed(hand, codes):
    code = codes["pump"]
    forms = (code.lower(), grouped(code), f"HTTP%3A%2F%2FLOCALHOST%3A8000%2FS%2F{code}", f" {code} ")
    for text in forms:
        assert hand["fitter"].get(f"scanned-labels?code={text}")["pump"]["tag"] == "P-117"
    assert hand["fitter"].get(f"scanned-labels/{grouped(code).lower()}")["code"] == code
    asked = {"code": f"HTTP://LOCALHOST:8000/S/{code}"}
    assert hand["fitter"].post("scanned-labels", asked)["pump"]["tag"] == "P-117"
    assert hand["fitter"].post("scanned-labels", {"code": "x"}, status=422)["errors"][0]["pointer"] == "#/code"
    refused = hand["fitter"].get("scanned-labels?code=0000000001", status=422)
    assert (refused["code"], refused["errors"][0]["pointer"]) == ("code-not-read", "?code")
    hand["fitter"].get("scanned-labels/0000000000", status=404)
    hand["fitter"].get("scanned-labels", status=422)
    hand["fitter"].get(f"scanned-labels/{code}?sight=1", status=400)
    hand["fitter"].get(f"scanned-labels/{code}?site=x", status=400)


def test_a_replaced_label_still_leads_on_and_names_the_new_one(hand, codes):
    old = next(one for one in hand["stores"].get("labels?kind=pump")["results"])
    seen = f"labels/{old['id']}"
    new = hand["stores"].post(f"{seen}/replace", {"reason": "torn"}, status=201, seen=seen)
    found = hand["fitter"].get(f"scanned-labels/{codes['pump']}")
    assert (found["state"], found["active_code"], found["pump"]["tag"]) == ("replaced", new["code"], "P-117")
    assert ("notice", "label-replaced") in said(found)
    assert hand["fitter"].get(f"scanned-labels/{new['code']}")["state"] == "active"


def test_a_void_label_leads_nowhere(cast, hand, codes):
    old = hand["stores"].get("labels?kind=bin")["results"][0]
    with transaction.atomic():
        void_label(by=cast.by("stores"), label_id=old["id"], expected_version=1, reason="wrong shelf")
    gone = hand["fitter"].get(f"scanned-labels/{codes['bin']}", status=410)
    assert (gone["code"], "wrong shelf" in gone["detail"]) == ("label-void", True)
    # Whoever may not know the bin does not learn that its label is void.
    hand["stranger"].get(f"scanned-labels/{codes['bin']}", status=404)


@pytest.mark.parametrize("role", ["stranger", "nobody"])
def test_things_of_another_site_answer_as_an_unknown_code_does(hand, codes, role):
    unknown = hand[role].get("scanned-labels/0000000000", status=404)
    for kind in ("lot", "pump", "bin"):
        refused = hand[role].get(f"scanned-labels/{codes[kind]}", status=404)
        assert (refused["code"], refused["detail"]) == (unknown["code"], unknown["detail"])
    kit = hand[role].get(f"scanned-labels/{codes['kit']}")["kit"]
    assert kit["number"] == "KIT-NB"
    assert [kit[name] for name in ("lots", "not_to_be_fitted", "pumps", "jobs", "procedures")] == [[], [], [], [], []]


def test_one_site_can_be_asked_for(cast, workshop, hand, codes):
    put_on_shelf(cast.by("stranger"), cast.south, workshop.kit, 2, lot="S-1")
    every = hand["chief"].get(f"scanned-labels/{codes['kit']}")["kit"]
    assert [one["site_code"] for one in every["lots"]] == ["north", "south"]
    south = hand["chief"].get(f"scanned-labels/{codes['kit']}?site={cast.south.pk}")["kit"]
    assert ([one["lot_number"] for one in south["lots"]], south["pumps"]) == (["S-1"], [])
    hand["fitter"].get(f"scanned-labels/{codes['kit']}?site={cast.south.pk}", status=404)


def test_the_number_of_statements_does_not_grow(cast, workshop, hand, codes):
    def statements():
        counts = {}
        for kind, code in codes.items():
            with CaptureQueriesContext(connection) as captured:
                hand["fitter"].get(f"scanned-labels/{code}")
            counts[kind] = len(captured)
        return counts

    hand["fitter"].get("me")
    few = statements()
    for number in range(15):
        another_pump(workshop.pump, f"D-{number:02}", "desirable")
        lay(cast, workshop.kit, f"X-{number}", days=number)
    assert statements() == few


@pytest.fixture
def phone(cast):
    client = Client(headers={"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"})
    client.post("/sign-in", {"login": "fitter", "password": "correct horse"})
    return client


def shown(client, code, status=200):
    answer = client.get(f"/S/{code}")
    assert answer.status_code == status, answer.content
    return html.unescape(" ".join(answer.content.decode().split()))


def test_a_phone_that_is_not_signed_in_comes_back_after_signing_in(cast, codes):
    client = Client()
    sent = client.get(f"/S/{codes['pump']}", headers={"Accept": "text/html"})
    assert (sent.status_code, sent.headers["Location"]) == (302, f"/sign-in?next=%2FS%2F{codes['pump']}")
    form = {"login": "fitter", "password": "correct horse", "next": f"/S/{codes['pump']}"}
    back = client.post("/sign-in", form)
    assert back.headers["Location"] == f"/S/{codes['pump']}"
    assert "Pump P-117" in shown(client, codes["pump"])


def test_the_page_of_a_pump_shows_every_caution_unfolded_before_the_kits(phone, codes):
    Fluid.objects.update(hazard="Scalds & burns.")
    page = shown(phone, codes["pump"])
    assert "<details" not in page
    assert page.index("lock and tag") < page.index("Scalds & burns.") < page.index("KIT-NB A")
    for words in ("fits", "1 free at this site", "PULL-OUT revision 1", "criticality".title()):
        assert words in page


def test_the_page_of_a_kit_a_lot_and_a_bin(cast, workshop, phone, codes):
    lay(cast, workshop.kit, "GONE", days=-1)
    kit = shown(phone, codes["kit"])
    for words in ("Kit KIT-NB A", "Do not fit", "Not to be fitted", "out of date", "P-117", "PULL-OUT revision 1"):
        assert words in kit
    lot = shown(phone, codes["lot"])
    for words in ("Lot L-1", "Nothing in it ages", "north, bin MAIN", "The kit KIT-NB A"):
        assert words in lot
    place = shown(phone, codes["bin"])
    for words in ("Bin MAIN", "Do not fit", "GONE", "L-1"):
        assert words in place


def test_the_page_says_why_a_code_leads_nowhere(cast, phone, codes):
    assert "does not check" in shown(phone, "0000000001", 422)
    assert "No label with this code is here" in shown(phone, "0000000000", 404)
    label = cast.client("stores").get("/api/v1/labels?kind=pump").json()["results"][0]
    with transaction.atomic():
        void_label(by=cast.by("stores"), label_id=label["id"], expected_version=1, reason="wrong pump")
    assert "is void: wrong pump" in shown(phone, codes["pump"], 410)


def test_a_program_gets_json_at_the_same_address(cast, codes):
    client = cast.client("fitter")
    for address, headers in (
        (f"/S/{codes['pump']}", {"Accept": "application/json"}),
        (f"/s/{codes['pump'].lower()}", {"Accept": "application/json"}),
        (f"/S/{codes['pump']}", {"Accept": "*/*"}),
    ):
        answer = client.get(address, headers=headers)
        assert answer.headers["Content-Type"] == "application/json"
        assert answer.json()["pump"]["tag"] == "P-117"
        assert "Accept" in answer.headers["Vary"]
    refused = Client().get(f"/S/{codes['pump']}", headers={"Accept": "application/json"})
    assert (refused.status_code, refused.json()["code"]) == (401, "not-signed-in")
    assert Client().post(f"/S/{codes['pump']}").status_code == 405


def test_what_people_wrote_is_shown_as_text(cast, workshop, phone, codes):
    Pump.objects.update(tag="<script>1</script>")
    assert b"<script>1" not in phone.get(f"/S/{codes['pump']}").content
