"""Which kit fits, asked from every side: the pump, the kit, a nameplate, a drawing board."""

import io
from decimal import Decimal

import pytest
from django.core.management import call_command

from assets.models import Pump, Site
from kits.models import FitMark, FitResult, Item, Supplier, SupplierTerms
from kits.operations.fit import compute_marked
from services.changes.recording import record_change
from tests.kits.catalogue.test_catalogue import kit
from tests.overhauls import hands, open_workshop
from tests.shelves import put_on_shelf

pytestmark = pytest.mark.django_db
LYING = {"north": ("62.0", "-6.8"), "south": ("59.9", "10.7")}


@pytest.fixture
def workshop(cast):
    made = open_workshop(cast)
    while compute_marked(limit=500):
        continue
    return made


@pytest.fixture
def owner(cast):
    return hands(cast)["data-owner"]


def described(workshop, **changes):
    pump = workshop.pump
    body = {
        "pump_model": str(pump.pump_model_id),
        "serial_number": pump.serial_number,
        "variant": pump.variant,
        "fluid": pump.fluid.code,
        "temperature_min_c": str(pump.temperature_min_c),
        "temperature_max_c": str(pump.temperature_max_c),
        "site": str(pump.site_id),
    }
    return {**body, **changes}


def everything_stored():
    return [FitResult.objects.count(), FitMark.objects.count(), Pump.objects.count()]


class TestRanking:
    def test_of_kits_that_fit_alike_the_nearest_comes_first_and_every_factor_is_shown(self, cast, workshop, owner):
        for code, (north, east) in LYING.items():
            Site.objects.filter(code=code).update(latitude=Decimal(north), longitude=Decimal(east))
        lines = [("casing-o-ring", str(workshop.o_ring.pk)), ("bearing-de", str(workshop.bearing.pk))]
        made = {number: kit(owner, number, lines) for number in ("K-FAR", "K-SOON", "K-LATE", "K-NOWHERE")}
        planner = hands(cast)["planner"]
        put_on_shelf(cast.by("stranger"), cast.south, item_of(made["K-FAR"]), 2, lot="S-1")
        supplier = Supplier.objects.create(code="harrow", name="Harrow")
        for number, days in (("K-SOON", 5), ("K-LATE", 40)):
            SupplierTerms.objects.create(
                supplier=supplier, item_id=made[number]["id"], lead_time_days=days, price=1, currency="EUR"
            )
        found = planner.get(f"pumps/{workshop.pump.pk}/fits")
        assert found["pending"] is False
        assert [one["number"] for one in found["kits"]] == ["KIT-NB", "K-FAR", "K-SOON", "K-LATE", "K-NOWHERE"]
        assert {one["verdict"] for one in found["kits"]} == {"fits"}
        far = found["kits"][1]
        assert Decimal(far["free_at_site"]) == 0
        assert (far["nearest_other_site"]["site_code"], far["available_elsewhere"]) == ("south", True)
        # Two places near the Faroe Islands and Oslo: about 950 km apart as the crow flies (value from memory).
        assert 900 < far["nearest_other_site"]["distance_km"] < 1000
        assert [Decimal(one["lead_time_days"]) for one in found["kits"][2:4]] == [5, 40]
        assert found["kits"][4]["lead_time_days"] is None
        assert planner.get(f"pumps/{workshop.pump.pk}/fits?limit=2")["found"] == 5

    def test_of_a_site_that_one_may_not_know_only_that_there_is_something(self, cast, workshop, owner):
        lines = [("casing-o-ring", str(workshop.o_ring.pk)), ("bearing-de", str(workshop.bearing.pk))]
        far = kit(owner, "K-FAR", lines)
        put_on_shelf(cast.by("stranger"), cast.south, item_of(far), 2, lot="S-1")
        found = hands(cast)["reader"].get(f"pumps/{workshop.pump.pk}/fits")["kits"]
        one = next(one for one in found if one["number"] == "K-FAR")
        assert (one["nearest_other_site"], one["available_elsewhere"]) == (None, True)

    @pytest.mark.parametrize(
        ("query", "pointer"), [("limit=0", "?limit"), ("limit=x", "?limit"), ("on=soon", "?on"), ("scop=a", "?scop")]
    )
    def test_a_parameter_that_cannot_be_read_is_named(self, cast, workshop, query, pointer):
        refused = hands(cast)["reader"].get(f"pumps/{workshop.pump.pk}/fits?{query}", status=400)
        assert refused["errors"][0]["pointer"] == pointer

    def test_only_kits_of_a_scope(self, cast, workshop, owner):
        kit(owner, "K-SEAL", [("casing-o-ring", str(workshop.o_ring.pk))], scope="gasket")
        found = hands(cast)["reader"].get(f"pumps/{workshop.pump.pk}/fits?scope=gasket")
        assert [(one["number"], one["asked"]) for one in found["kits"]] == [("K-SEAL", 1)]


def item_of(made):
    return Item.objects.get(pk=made["id"])


class TestADescribedPump:
    def test_gets_the_answer_of_an_installed_one_and_nothing_is_written(self, cast, workshop):
        reader, before = hands(cast)["reader"], everything_stored()
        installed = reader.get(f"pumps/{workshop.pump.pk}/fits")
        found = reader.post("described-pump-fits", described(workshop))
        assert found["kits"] == installed["kits"]
        assert everything_stored() == before

    def test_of_conditions_that_no_pump_has_yet_is_judged_all_the_same(self, cast, workshop):
        reader = hands(cast)["reader"]
        hot = reader.post("described-pump-fits", described(workshop, temperature_max_c="180"))
        assert [one["verdict"] for one in hot["kits"]] == ["unsuitable"]
        assert any(one["code"] == "unsuitable" for one in hot["kits"][0]["reasons"])

    @pytest.mark.parametrize(
        ("changes", "pointer"),
        [
            ({"fluid": "treacle"}, "#/fluid"),
            ({"temperature_min_c": "200"}, "#/temperature_max_c"),
            ({"pump_model": "0199a0c4-0000-7000-8000-000000000000"}, "#/pump_model"),
            ({"colour": "red"}, "#/colour"),
        ],
    )
    def test_what_cannot_be_is_named(self, cast, workshop, changes, pointer):
        refused = hands(cast)["reader"].post("described-pump-fits", described(workshop, **changes), status=422)
        assert refused["errors"][0]["pointer"] == pointer

    def test_a_site_of_somebody_else_is_not_there(self, cast, workshop):
        hands(cast)["stranger"].post("described-pump-fits", described(workshop), status=404)


class TestTheKitsSide:
    def test_the_pumps_that_depend_on_it_are_listed_and_counted_by_site(self, cast, workshop):
        reader = hands(cast)["reader"]
        row = reader.get(f"kits/{workshop.kit.pk}/pumps")["results"][0]
        assert (row["tag"], row["verdict"], row["another_fits"]) == (workshop.pump.tag, "fits", False)
        assert reader.get(f"kits/{workshop.kit.pk}/pumps?verdict=incomplete")["results"] == []
        found = reader.get(f"kits/{workshop.kit.pk}/dependence")["sites"]
        assert [(one["site_code"], one["pumps"], one["only_this"], one["by_verdict"]) for one in found] == [
            ("north", 1, 1, {"fits": 1})
        ]
        assert found[0]["by_criticality"] == {workshop.pump.criticality: 1}

    def test_whoever_has_no_role_at_a_site_sees_none_of_its_pumps(self, cast, workshop):
        stranger = hands(cast)["stranger"]
        assert stranger.get(f"kits/{workshop.kit.pk}/dependence")["sites"] == []
        assert stranger.get(f"kits/{workshop.kit.pk}/pumps")["results"] == []

    def test_another_kit_that_fits_takes_the_weight_off_it(self, cast, workshop, owner):
        lines = [("casing-o-ring", str(workshop.o_ring.pk)), ("bearing-de", str(workshop.bearing.pk))]
        kit(owner, "K-TOO", lines)
        reader = hands(cast)["reader"]
        assert reader.get(f"kits/{workshop.kit.pk}/dependence")["sites"][0]["only_this"] == 0
        assert reader.get(f"kits/{workshop.kit.pk}/pumps?another_fits=false")["results"] == []

    def test_a_withdrawn_pump_depends_on_nothing(self, cast, workshop):
        Pump.objects.filter(pk=workshop.pump.pk).update(state="withdrawn")
        assert hands(cast)["reader"].get(f"kits/{workshop.kit.pk}/dependence")["sites"] == []


class TestADescribedKit:
    def test_says_which_installed_pumps_it_would_fit_and_writes_nothing(self, cast, workshop):
        before = everything_stored()
        body = {
            "scope": "full-overhaul",
            "lines": [
                {"role": "casing-o-ring", "category": "o-ring", "specification": "226 EPDM 70", "quantity": "1"},
                {"role": "bearing-de", "part": str(workshop.bearing.pk), "quantity": "1"},
            ],
        }
        found = hands(cast)["planner"].post("described-kit-fits", body)
        assert [(one["site_code"], one["by_verdict"]) for one in found["sites"]] == [("north", {"fits-with-notes": 1})]
        assert found["models_found"] == 1
        assert {one["code"] for one in found["models"][0]["reasons"]} == {"equivalent", "exact"}
        assert everything_stored() == before

    def test_a_draft_is_judged_as_it_stands(self, cast, workshop, owner):
        draft = owner.post(
            "kits", {"number": "K-D", "revision": "A", "name": "K", "scope": "full-overhaul"}, status=201
        )
        path = f"kits/{draft['id']}"
        rows = [{"line": 1, "role": "bearing-de", "part": str(workshop.bearing.pk), "quantity": "1"}]
        owner.post(f"{path}/lines", {"lines": rows}, seen=path)
        found = owner.post("described-kit-fits", {"kit": draft["id"]})
        assert found["models"][0]["verdict"] == "incomplete"

    def test_every_line_that_cannot_stand_is_named(self, cast, workshop):
        body = {
            "scope": "full-overhaul",
            "lines": [
                {"role": "crow's nest", "part_number": "X", "quantity": "1"},
                {"role": "bearing-de", "quantity": "1"},
                {"role": "bearing-de", "category": "rolling-bearing", "specification": "bearing", "quantity": "0"},
            ],
        }
        refused = hands(cast)["planner"].post("described-kit-fits", body, status=422)
        assert {one["pointer"] for one in refused["errors"]} == {
            "#/lines/0/role", "#/lines/1/part", "#/lines/2/specification", "#/lines/2/quantity",
        }  # fmt: skip

    def test_no_scope_or_a_kit_and_lines_together_are_refused(self, cast, workshop):
        lines = [{"role": "bearing-de", "part_number": "X", "quantity": "1"}]
        planner = hands(cast)["planner"]
        for body, pointer in (
            ({"lines": lines}, "#/scope"),
            ({"scope": "full-overhaul"}, "#/lines"),
            ({"kit": str(workshop.kit.pk), "lines": lines}, "#/kit"),
        ):
            assert planner.post("described-kit-fits", body, status=422)["errors"][0]["pointer"] == pointer


class TestAlwaysCurrent:
    def test_whatever_fits_depend_on_wakes_the_worker_once_it_is_committed(
        self, cast, workshop, owner, monkeypatch, django_capture_on_commit_callbacks
    ):
        woken = []
        monkeypatch.setattr("services.work.recording.current_app.send_task", lambda name, **_: woken.append(name))
        monkeypatch.setattr("services.work.recording.settings.CELERY_BROKER_URL", "memory://")
        for kind, noun, told in (
            ("part.changed", "part", True), ("pump.registered", "pump", True), ("lot.extended", "lot", False),
        ):  # fmt: skip
            with django_capture_on_commit_callbacks(execute=True):
                record_change(kind, noun=noun, noun_id=workshop.o_ring.pk, by=None)
            assert (woken == ["kits.tasks.compute_fits"]) == told, kind
            woken.clear()

    def test_all_fits_can_be_computed_anew(self, cast, workshop):
        kept = list(FitResult.objects.values_list("build_class_id", "kit_id", "verdict", "kit_seen", "class_seen"))
        FitResult.objects.update(verdict="incomplete")
        out = io.StringIO()
        call_command("rebuild_fits", stdout=out)
        again = FitResult.objects.values_list("build_class_id", "kit_id", "verdict", "kit_seen", "class_seen")
        assert list(again) == kept
        assert out.getvalue() == "The fits of 1 kits were computed anew.\n"
