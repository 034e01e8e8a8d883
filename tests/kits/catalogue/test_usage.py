"""The data owner's lists: where a part is used, what is stranded, whom nothing serves, what is contradicted."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from assets.models import Fluid, FluidFamily, Maker, Pump, PumpModel, WearPosition
from assets.operations.pumps import register_pump
from kits.models import Coverage, FitMark, Supersession
from kits.operations.fit import compute_marked
from tests.overhauls import hands, open_workshop
from tests.shelves import make_kit, make_part, put_on_shelf

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
ONE_DAY = datetime.timedelta(days=1)


@pytest.fixture
def workshop(cast):
    return open_workshop(cast)


@pytest.fixture
def owner(cast):
    return hands(cast)["data-owner"]


def compute():
    while compute_marked(limit=200):
        continue


def pump_of_another_model(cast, tag="P-900", site=None):
    """A pump whose one position asks for a gasket that no kit brings."""
    family = FluidFamily.objects.get(code="water")
    fluid, _ = Fluid.objects.get_or_create(code="cold-water", defaults={"name": "Cold water", "family": family})
    model, _ = PumpModel.objects.get_or_create(
        code="IN-32",
        defaults={
            "maker": Maker.objects.get(), "series": "IN", "designation": "32-160", "configuration": "in-line",
            "shaft_diameter_at_seal_mm": 18, "rated_speed_rpm": 2900, "rated_power_kw": 2,
        },
    )  # fmt: skip
    WearPosition.objects.get_or_create(
        pump_model=model, part_number="GSK 9", defaults={"quantity": 1, "role_id": "casing-o-ring"}
    )
    made = register_pump(
        by=cast.by("integrator" if site is None else "stranger"), site_id=(site or cast.north).pk, tag=tag,
        pump_model_id=model.pk, serial_number=tag, variant={}, fluid_id=fluid.pk,
        temperature_min_c=Decimal(5), temperature_max_c=Decimal(20), criticality="essential",
    )  # fmt: skip
    compute()
    return made


def listed(hand, path, field="number"):
    return [one[field] for one in hand.get(path)["results"]]


class TestWhereUsed:
    def test_names_the_kits_with_the_pumps_of_ones_sites(self, cast, workshop, owner):
        pump_of_another_model(cast)
        (found,) = owner.get(f"parts/{workshop.o_ring.pk}/where-used")["results"]
        assert (found["kit_number"], found["role"], found["quantity"]) == ("KIT-NB", "casing-o-ring", "1")
        assert found["pumps"] == [{"site": str(cast.north.pk), "site_code": "north", "count": 1}]
        (seen,) = hands(cast)["stranger"].get(f"parts/{workshop.o_ring.pk}/where-used")["results"]
        assert seen["pumps"] == []

    def test_names_the_positions_by_number_and_over_supersession(self, cast, workshop, owner):
        newer, newest = make_part("OR-N"), make_part("OR-NN")
        for old, new, day in ((workshop.o_ring, newer, TODAY), (newer, newest, TODAY + ONE_DAY)):
            Supersession.objects.create(old_id=old.pk, new_id=new.pk, from_date=day)
        (own,) = owner.get(f"parts/{workshop.o_ring.pk}/asked-by")["results"]
        (over,) = owner.get(f"parts/{newer.pk}/asked-by")["results"]
        assert (own["path"], over["path"]) == (["OR-226-E"], ["OR-226-E", "OR-N"])
        assert (over["pump_model_code"], over["pumps"][0]["count"]) == ("NB-40-200", 1)
        assert owner.get(f"parts/{newest.pk}/asked-by")["results"] == []

    def test_of_a_part_that_is_not_there_nothing_is_told(self, owner):
        for list_ in ("where-used", "asked-by"):
            owner.get(f"parts/0199a0c4-0000-7000-8000-000000000999/{list_}", status=404)


class TestStranded:
    def test_a_part_that_nothing_asks_for_is_told_with_its_stock(self, cast, workshop, owner):
        alone = make_part("ALONE")
        put_on_shelf(cast.by("stores"), cast.north, alone, 5, lot="A-1", cured=None)
        put_on_shelf(cast.by("stranger"), cast.south, alone, 7, lot="A-2", cured=None)
        (found,) = owner.get("stranded-parts")["results"]
        assert (found["number"], found["on_hand"], found["value"]) == ("ALONE", "5", "21")

    def test_a_part_is_needed_by_its_kit_by_its_number_or_over_a_supersession_that_holds(self, cast, workshop, owner):
        newer, later, both = make_part("GSK-10"), make_part("GSK-11"), make_part("GSK-8")
        asked = make_part("gsk.9")
        assert set(listed(owner, "stranded-parts")) == {"GSK-10", "GSK-11", "GSK-8", "gsk.9"}
        Supersession.objects.create(old_id=asked.pk, new_id=newer.pk, from_date=TODAY)
        Supersession.objects.create(old_id=newer.pk, new_id=later.pk, from_date=TODAY + ONE_DAY)
        Supersession.objects.create(old_id=both.pk, new_id=asked.pk, from_date=TODAY, both_ways=True)
        pump_of_another_model(cast)
        assert listed(owner, "stranded-parts") == ["GSK-11"]
        Pump.objects.update(state="withdrawn")
        assert len(listed(owner, "stranded-parts")) == 6

    def test_a_released_kit_without_an_installed_pump_is_told(self, workshop, owner):
        make_kit("KIT-NONE", [("casing-o-ring", make_part("RING-9"))])
        compute()
        assert listed(owner, "stranded-kits") == ["KIT-NONE"]
        Pump.objects.update(state="withdrawn")
        found = owner.get("stranded-kits")["results"]
        assert {one["number"]: one["on_hand"] for one in found} == {"KIT-NB": "1", "KIT-NONE": "0"}

    def test_pages_fields_and_other_media(self, cast, workshop, owner):
        for place in range(3):
            make_part(f"S-{place}")
        first = owner.get("stranded-parts?limit=2&fields=number,on_hand")
        assert first["results"] == [{"number": "S-0", "on_hand": "0"}, {"number": "S-1", "on_hand": "0"}]
        second = owner.get(first["next"].removeprefix("/api/v1/"))
        assert [one["number"] for one in second["results"]] == ["S-2"]
        answer = owner.client.get("/api/v1/stranded-parts", headers={"Accept": "text/csv"})
        assert answer.content.decode().splitlines()[1].split(",")[1] == "S-0"
        assert answer.headers["Fits-Pending"] == "no"


class TestUnserved:
    def test_a_pump_that_nothing_fits_is_told_with_the_best_there_is(self, cast, workshop, owner):
        pump_of_another_model(cast)
        pump_of_another_model(cast, "S-1", cast.south)
        (found,) = owner.get("unserved-pumps")["results"]
        assert (found["tag"], found["best_verdict"], found["criticality"]) == ("P-900", "no-fit", "essential")
        assert listed(owner, f"unserved-pumps?site={cast.south.pk}", "tag") == []
        assert listed(owner, "unserved-pumps?scope=gasket", "tag") == ["P-117", "P-900"]

    def test_while_something_is_to_be_computed_it_says_so(self, cast, workshop, owner):
        pump = pump_of_another_model(cast)
        assert owner.get("unserved-pumps")["pending"] is False
        FitMark.objects.create(build_class_id=pump.build_class_id)
        answer = owner.get("unserved-pumps")
        assert (answer["pending"], answer["results"][0]["pending"]) == (True, True)

    def test_an_incomplete_kit_is_named_as_the_best(self, workshop, owner):
        WearPosition.objects.create(
            pump_model_id=workshop.pump.pump_model_id, role_id="bearing-de", quantity=1, part_number="ELSE"
        )
        compute()
        assert listed(owner, "unserved-pumps?best_verdict=incomplete", "tag") == ["P-117"]


class TestContradicted:
    def test_what_the_fit_contradicts_is_told_with_how_many_pumps(self, cast, workshop, owner):
        other = pump_of_another_model(cast)
        for model in (workshop.pump.pump_model_id, other.pump_model_id):
            Coverage.objects.create(kit_id=workshop.kit.pk, pump_model_id=model)
        compute()
        (found,) = owner.get("contradicted-coverage")["results"]
        assert (found["pump_model_code"], found["kit_number"]) == ("IN-32", "KIT-NB")
        assert (found["pump_count"], found["no_fit"], found["incomplete"]) == (1, 1, 0)
        assert hands(cast)["stranger"].get("contradicted-coverage")["results"] == []

    def test_serials_and_days_outside_the_word_contradict_nothing(self, cast, workshop, owner):
        other = pump_of_another_model(cast)
        word = Coverage.objects.create(kit_id=workshop.kit.pk, pump_model_id=other.pump_model_id, serial_from="X*")
        compute()
        assert owner.get("contradicted-coverage")["results"] == []
        Coverage.objects.update(serial_from="P*")
        assert listed(owner, "contradicted-coverage", "id") == [str(word.pk)]
        Coverage.objects.update(valid_to=TODAY - ONE_DAY)
        assert owner.get("contradicted-coverage")["results"] == []
