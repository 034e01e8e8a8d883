"""Labels over HTTP: one active code a thing, replaced and void ones, and who may have them made."""

import re

import psycopg
import pytest
from django.db import IntegrityError, transaction

from assets.models import Bin, Pump
from jobs.calculations.label_codes import is_sound
from jobs.models import Label
from kits.models import Lot
from services.changes.models import Change
from tests.overhauls import Hand

pytestmark = pytest.mark.django_db


@pytest.fixture
def things(cast, workshop):
    return {
        "kit": str(workshop.kit.pk),
        "lot": str(Lot.objects.get(number="L-1").pk),
        "pump": str(workshop.pump.pk),
        "bin": str(Bin.objects.get(site=cast.north).pk),
    }


def make(hand: Hand, things, *kinds, status=200):
    body = {"things": [{"kind": kind, "id": things[kind]} for kind in kinds or things]}
    return hand.post("labels", body, status=status)


def test_each_kind_of_thing_gets_a_code_of_its_own(hand, things):
    made = make(hand["stores"], things)["labels"]
    assert [one["kind"] for one in made] == ["kit", "lot", "pump", "bin"]
    assert [one["number"] for one in made] == ["KIT-NB", "L-1", "P-117", "MAIN"]
    assert all(is_sound(one["code"]) and one["is_new"] and one["state"] == "active" for one in made)
    assert len({one["code"] for one in made}) == 4
    for one in made:
        assert one["uri"] == f"HTTP://LOCALHOST:8000/S/{one['code']}"
        assert re.fullmatch(r"\w{5}-\w{5}", one["printed_code"])
    assert Change.objects.filter(kind="label.made").count() == 4
    assert set(Change.objects.filter(kind="label.made", site_id=None).values_list("body__kind", flat=True)) == {
        "kit",
        "lot",
    }


def test_asking_again_gives_the_same_code_and_tells_no_change(hand, things):
    first, again = (make(hand["stores"], things)["labels"] for _ in range(2))
    assert [one["code"] for one in again] == [one["code"] for one in first]
    assert not any(one["is_new"] for one in again)
    assert Change.objects.filter(kind="label.made").count() == 4


def test_a_thing_named_twice_gets_one_label(hand, things):
    made = make(hand["stores"], things, "pump", "bin", "pump")["labels"]
    assert made[0]["code"] == made[2]["code"]
    assert Label.objects.count() == 2


def test_a_replacement_has_another_code_and_the_old_one_names_it(hand, things):
    old = make(hand["stores"], things, "pump")["labels"][0]
    new = hand["stores"].post(f"labels/{old['id']}/replace", {"reason": "torn"}, status=201, seen=f"labels/{old['id']}")
    assert new["code"] != old["code"]
    assert (new["thing"], new["state"], new["version"]) == (old["thing"], "active", 1)
    kept = hand["stores"].get(f"labels/{old['id']}")
    assert (kept["state"], kept["reason"], kept["replaced_by_code"]) == ("replaced", "torn", new["code"])
    assert make(hand["stores"], things, "pump")["labels"][0]["code"] == new["code"]
    refused = hand["stores"].post(
        f"labels/{old['id']}/replace", {"reason": "again"}, status=409, seen=f"labels/{old['id']}"
    )
    assert refused["code"] == "wrong-state"


def test_a_void_label_is_void_for_good_and_its_thing_may_have_another(hand, things):
    old = make(hand["stores"], things, "bin")["labels"][0]
    seen = f"labels/{old['id']}"
    assert hand["stores"].post(f"{seen}/void", {"reason": "wrong shelf"}, seen=seen)["state"] == "void"
    assert hand["stores"].post(f"{seen}/void", {"reason": "again"}, status=409, seen=seen)["code"] == "wrong-state"
    assert hand["stores"].post(f"{seen}/replace", {"reason": "x"}, status=409, seen=seen)["code"] == "wrong-state"
    new = make(hand["stores"], things, "bin")["labels"][0]
    assert new["is_new"]
    assert new["code"] != old["code"]


def test_who_decides_on_a_label_says_which_version_was_seen(hand, cast, things):
    old = make(hand["stores"], things, "pump")["labels"][0]
    client = cast.client("stores")
    for action in ("replace", "void"):
        path = f"/api/v1/labels/{old['id']}/{action}"
        assert client.post(path, {"reason": "x"}, format="json").status_code == 428
        stale = client.post(path, {"reason": "x"}, format="json", headers={"If-Match": '"7"'})
        assert (stale.status_code, stale.json()["current_version"]) == (412, 1)
        assert client.post(path, {}, format="json", headers={"If-Match": '"1"'}).status_code == 422


def test_labels_are_found_by_thing_state_and_code(hand, things):
    made = {one["kind"]: one for one in make(hand["stores"], things)["labels"]}
    stores = hand["stores"]
    for kind, one in made.items():
        assert [row["code"] for row in stores.get(f"labels?kind={kind}")["results"]] == [one["code"]]
        assert [row["code"] for row in stores.get(f"labels?{kind}={things[kind]}")["results"]] == [one["code"]]
    typed = made["pump"]["printed_code"].lower().replace("0", "o")
    assert [row["kind"] for row in stores.get(f"labels?code={typed}")["results"]] == ["pump"]
    assert stores.get("labels?code=0000000001", status=422)["code"] == "code-not-read"
    assert len(stores.get("labels?printed=false")["results"]) == 4
    assert stores.get("labels?printed=true")["results"] == []
    assert len(stores.get("labels?state__in=replaced,void")["results"]) == 0


@pytest.mark.parametrize(
    ("role", "kinds"),
    [
        ("stores", {"kit", "lot", "pump", "bin"}),
        ("admin", {"kit", "lot", "pump", "bin"}),
        ("planner", {"lot", "pump", "bin"}),
        ("supervisor", {"lot", "pump", "bin"}),
        ("integrator", {"lot", "pump", "bin"}),
        ("data-owner", {"kit"}),
        ("fitter", set()),
        ("reader", set()),
    ],
)
def test_a_role_labels_what_is_its_own(hand, things, role, kinds):
    for kind in things:
        answer = make(hand[role], things, kind, status=200 if kind in kinds else 403)
        assert ("labels" in answer) == (kind in kinds)


def test_things_of_another_site_are_not_there_and_neither_are_their_labels(hand, things):
    made = {one["kind"]: one for one in make(hand["stores"], things)["labels"]}
    for kind in ("lot", "pump", "bin"):
        refused = make(hand["stranger"], things, kind, status=422)
        assert refused["errors"][0]["pointer"] == "#/things/0/id"
        assert "no such" in refused["detail"]
        hand["stranger"].get(f"labels/{made[kind]['id']}", status=404)
    # The catalogue is everybody's.
    assert [one["kind"] for one in hand["stranger"].get("labels")["results"]] == ["kit"]
    assert [one["kind"] for one in hand["nobody"].get("labels")["results"]] == ["kit"]
    assert len(hand["chief"].get("labels")["results"]) == 4


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"things": []},
        {"things": [{"kind": "shelf", "id": "0199a0c4-0000-7000-8000-0000000000aa"}]},
        {"things": [{"kind": "pump"}]},
        {"things": [{"kind": "pump", "id": "x"}]},
        {"things": [{"kind": "pump", "id": "0199a0c4-0000-7000-8000-0000000000aa", "code": "7"}]},
        {"things": [{"kind": "pump", "id": "0199a0c4-0000-7000-8000-0000000000aa"}] * 501},
        {"things": "pump"},
    ],
)
def test_a_body_that_names_nothing_is_refused(hand, body):
    refused = hand["stores"].post("labels", body, status=422)
    assert refused["errors"][0]["pointer"].startswith("#/things")


def test_the_database_itself_keeps_the_rules_of_labels(cast, workshop):
    pump, kit = workshop.pump, workshop.kit
    other = Pump.objects.create(
        site=cast.north, tag="P-118", serial_number="X", pump_model=pump.pump_model, fluid=pump.fluid,
        temperature_min_c=5, temperature_max_c=9, criticality="vital",
    )  # fmt: skip
    label = Label.objects.create(code="7K3MP9QXZ4", kind="pump", pump=pump)
    broken = {
        "pump_has_one_active_label": lambda: Label.objects.create(code="7K3MP9QXZ5", kind="pump", pump=pump),
        "label_names_one_thing": lambda: Label.objects.create(code="7K3MP9QXZ5", kind="kit", pump=other),
        "label_code_is_well_formed": lambda: Label.objects.create(code="7K3MP9QXI5", kind="kit", kit_id=kit.pk),
        "replaced_label_names_the_next": lambda: Label.objects.update(state="replaced"),
        "label_stays_on_its_thing": lambda: Label.objects.update(pump=other),
    }
    for name, act in broken.items():
        with pytest.raises(IntegrityError) as caught, transaction.atomic():
            act()
        assert isinstance(caught.value.__cause__, psycopg.Error)
        assert caught.value.__cause__.diag.constraint_name == name
    label.refresh_from_db()
    assert (label.version, label.state) == (1, "active")


def test_making_many_labels_takes_as_many_statements_as_making_few(cast, workshop, django_assert_max_num_queries):
    client = cast.client("stores")
    bins = [Bin.objects.create(site=cast.north, code=f"A-{number}") for number in range(60)]
    client.get("/api/v1/me")
    with django_assert_max_num_queries(16):
        answer = client.post(
            "/api/v1/labels", {"things": [{"kind": "bin", "id": str(one.pk)} for one in bins]}, format="json"
        )
    assert [one["number"] for one in answer.json()["labels"]] == [one.code for one in bins]
