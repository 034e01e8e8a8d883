"""The catalogue over HTTP: parts with typed specifications, supersessions, revisions of kits, and their fits."""

import datetime
import itertools

import pytest
from django.utils import timezone

from kits.operations.fit import compute_marked
from tests.overhauls import hands, open_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(cast):
    return open_workshop(cast)


@pytest.fixture
def owner(cast):
    return hands(cast)["data-owner"]


def part(owner, number, category, specification, status=201):
    return owner.post(
        "parts",
        {"number": number, "name": number, "category": category, "specification": specification},
        status=status,
    )


def kit(owner, number, lines, *, revision="A", scope="full-overhaul"):
    """A released kit of (role, part id) lines."""
    draft = owner.post("kits", {"number": number, "revision": revision, "name": number, "scope": scope}, status=201)
    path = f"kits/{draft['id']}"
    rows = [{"line": place, "role": role, "part": one, "quantity": "1"} for place, (role, one) in enumerate(lines, 1)]
    owner.post(f"{path}/lines", {"lines": rows}, seen=path)
    released = owner.post(f"{path}/release", seen=path)
    while compute_marked(limit=200):
        continue
    return released


def fit_of(hand, workshop, number, **on):
    query = "".join(f"?{key}={value}" for key, value in on.items())
    kits = hand.get(f"pumps/{workshop.pump.pk}/fits{query}")["kits"]
    return next((one for one in kits if one["number"] == number), None)


class TestParts:
    def test_a_specification_is_read_by_its_category_and_says_what_ages(self, owner):
        made = part(owner, "OR-1", "o-ring", "226 EPDM 70")
        assert made["specification"]["inside_diameter_mm"] == "50.39"
        assert made["elastomers"] == ["EPDM"]

    @pytest.mark.parametrize(
        ("category", "specification"),
        [("o-ring", "226 CHEESE 70"), ("o-ring", "large"), ("rolling-bearing", "6308 C9"), ("mechanical-seal", "43")],
    )
    def test_one_that_cannot_be_read_names_the_field_and_the_form_to_write(self, owner, category, specification):
        refused = part(owner, "X-1", category, specification, status=422)
        assert refused["code"] == "part-specification-unreadable"
        assert [one["pointer"] for one in refused["errors"]] == ["#/specification"]
        assert refused["remedy"]

    def test_a_number_is_used_once(self, owner):
        part(owner, "OR-1", "o-ring", "226 EPDM 70")
        refused = part(owner, "or-1", "o-ring", "226 EPDM 70", status=409)
        assert (refused["code"], refused["errors"][0]["pointer"]) == ("already-there", "#/number")


class TestSupersessions:
    def test_a_circle_is_refused_at_any_length(self, owner):
        ids = [part(owner, f"OR-{number}", "o-ring", "226 EPDM 70")["id"] for number in range(4)]
        for old, new in itertools.pairwise(ids):
            owner.post("supersessions", {"old": old, "new": new, "from_date": "2026-01-01"}, status=201)
        refused = owner.post("supersessions", {"old": ids[3], "new": ids[0], "from_date": "2026-01-01"}, status=422)
        assert refused["code"] == "supersession-cycle"

    def test_a_newer_part_serves_from_its_day_on(self, cast, workshop, owner):
        """Its own specification is of another category, so only the supersession can make it serve."""
        newer = part(owner, "OR-NEW", "other", "moulded ring, same groove")
        day = timezone.now().date() + datetime.timedelta(days=10)
        owner.post(
            "supersessions",
            {"old": str(workshop.o_ring.pk), "new": newer["id"], "from_date": day.isoformat()},
            status=201,
        )
        kit(owner, "K-NEW", [("casing-o-ring", newer["id"]), ("bearing-de", str(workshop.bearing.pk))])
        before = fit_of(owner, workshop, "K-NEW", on=day - datetime.timedelta(days=1))
        after = fit_of(owner, workshop, "K-NEW", on=day)
        assert (before["verdict"], before["matched"]) == ("incomplete", 1)
        assert (after["verdict"], after["matched"]) == ("fits-with-notes", 2)
        assert {one["code"] for one in after["reasons"]} == {"superseded", "exact"}


class TestKits:
    def test_a_released_revision_never_changes_and_the_next_takes_its_place(self, owner, workshop):
        lines = [("casing-o-ring", str(workshop.o_ring.pk)), ("bearing-de", str(workshop.bearing.pk))]
        first = kit(owner, "K-2", lines)
        path = f"kits/{first['id']}"
        rows = [{"line": 1, "role": "bearing-de", "part": str(workshop.bearing.pk), "quantity": "2"}]
        assert owner.post(f"{path}/lines", {"lines": rows}, seen=path, status=409)["code"] == "kit-released"
        second = kit(owner, "K-2", lines, revision="B")
        assert owner.get(path)["state"] == "withdrawn"
        fitting = fit_of(owner, workshop, "K-2")
        assert (fitting["kit"], fitting["verdict"]) == (second["id"], "fits")

    def test_lines_that_cannot_stand_are_all_named_and_none_is_kept(self, owner, workshop):
        draft = owner.post(
            "kits", {"number": "K-3", "revision": "A", "name": "K", "scope": "full-overhaul"}, status=201
        )
        path = f"kits/{draft['id']}"
        rows = [
            {"line": 1, "role": "bearing-de", "part": str(workshop.bearing.pk), "quantity": "1"},
            {"line": 1, "role": "bearing-de", "part": str(workshop.bearing.pk), "quantity": "0"},
            {"line": 2, "role": "crow's nest", "part": draft["id"], "quantity": "1"},
        ]
        refused = owner.post(f"{path}/lines", {"lines": rows}, seen=path, status=422)
        assert {one["pointer"] for one in refused["errors"]} == {
            "#/lines/1/line",
            "#/lines/1/quantity",
            "#/lines/2/role",
            "#/lines/2/part",
        }
        assert owner.get(path)["lines"] == []

    def test_without_lines_it_is_not_released(self, owner, workshop):
        draft = owner.post(
            "kits", {"number": "K-4", "revision": "A", "name": "K", "scope": "full-overhaul"}, status=201
        )
        path = f"kits/{draft['id']}"
        assert owner.post(f"{path}/release", seen=path, status=409)["code"] == "kit-incomplete"
        assert owner.get(path)["state"] == "draft"

    def test_only_the_data_owner_changes_the_catalogue(self, cast, workshop):
        for role in ("fitter", "stores", "planner", "integrator", "admin"):
            hand = hands(cast)[role]
            body = {"number": "K-5", "revision": "A", "name": "K", "scope": "full-overhaul"}
            assert hand.post("kits", body, status=403)["code"] == "not-allowed"


class TestFits:
    def test_an_equal_part_of_another_number_serves_and_the_reason_shows_what_was_compared(self, owner, workshop):
        other = part(owner, "ANOTHER-RING", "o-ring", "226 EPDM 70")
        kit(owner, "K-EQ", [("casing-o-ring", other["id"]), ("bearing-de", str(workshop.bearing.pk))])
        found = fit_of(owner, workshop, "K-EQ")
        assert found["verdict"] == "fits-with-notes"
        reason = next(one for one in found["reasons"] if one["role"] == "casing-o-ring")
        assert reason["code"] == "equivalent"
        assert all(one["same"] for one in reason["compared"])
        assert {one["name"] for one in reason["compared"]} >= {"inside diameter", "section", "material", "hardness"}

    def test_free_text_never_counts_as_equal(self, owner, workshop):
        text = part(owner, "RING-AS-TEXT", "other", "226 EPDM 70")
        kit(owner, "K-TXT", [("casing-o-ring", text["id"]), ("bearing-de", str(workshop.bearing.pk))])
        assert fit_of(owner, workshop, "K-TXT")["verdict"] == "incomplete"

    def test_a_kit_that_serves_no_position_is_not_offered(self, owner, workshop):
        strange = part(owner, "RING-9", "o-ring", "110 EPDM 70")
        kit(owner, "K-NONE", [("casing-o-ring", strange["id"])])
        assert fit_of(owner, workshop, "K-NONE") is None

    def test_a_withdrawn_kit_is_offered_no_more(self, owner, workshop):
        path = f"kits/{workshop.kit.pk}"
        assert fit_of(owner, workshop, "KIT-NB")["free_at_site"] == "1"
        owner.post(f"{path}/withdraw", seen=path)
        while compute_marked(limit=200):
            continue
        assert fit_of(owner, workshop, "KIT-NB") is None

    def test_until_a_change_is_computed_the_answer_says_so(self, owner, workshop):
        other = part(owner, "ANOTHER-RING", "o-ring", "226 EPDM 70")
        draft = owner.post(
            "kits", {"number": "K-6", "revision": "A", "name": "K", "scope": "full-overhaul"}, status=201
        )
        path = f"kits/{draft['id']}"
        rows = [{"line": 1, "role": "casing-o-ring", "part": other["id"], "quantity": "1"}]
        owner.post(f"{path}/lines", {"lines": rows}, seen=path)
        owner.post(f"{path}/release", seen=path)
        assert owner.get(f"pumps/{workshop.pump.pk}/fits")["pending"] is True
        while compute_marked(limit=200):
            continue
        assert owner.get(f"pumps/{workshop.pump.pk}/fits")["pending"] is False
