"""A change marks what its fits depend on for computing anew, and nothing beside it."""

import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from assets.calculations.part_specifications import parse_specification
from assets.models import Fluid, FluidFamily, PositionRole, Pump, PumpModel, WearPosition
from assets.operations.pump_models import change_pump_model, change_wear_position, register_wear_position
from assets.operations.pumps import change_pump, register_pump
from kits.models import (
    FitDay,
    FitMark,
    Item,
    Kit,
    KitScope,
    LubricantAdvice,
    Material,
    MaterialLimit,
    MaterialRating,
    Supersession,
)
from kits.operations.coverage import declare_coverage
from kits.operations.fit import compute_marked
from kits.operations.kits import (
    LineWanted,
    change_kit,
    draft_kit,
    release_kit,
    set_lines,
    withdraw_kit,
)
from kits.operations.parts import change_part, register_part
from kits.operations.supersessions import change_supersession, register_supersession
from tests.kits.fit.brute_force import Catalogue, Limit, Line, Part, Position, Rating
from tests.kits.fit.brute_force import Kit as PlainKit
from tests.kits.fit.brute_force import Pump as PlainPump
from tests.kits.fit.random_catalogues import SCOPES, WATER
from tests.kits.fit.stored import drain, stored_fits, write

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
ONE = Decimal(1)


def ring(material: str) -> dict[str, Any]:
    return parse_specification("o-ring", f"50.39x3.53 {material}").to_json()


BEARING = parse_specification("rolling-bearing", "6308 C3").to_json()
PARTS = {
    "RING-E": Part("RING-E", ring("EPDM")),
    "RING-N": Part("RING-N", ring("NBR")),
    "BEARING": Part("BEARING", BEARING),
    "SPARE": Part("SPARE", ring("FKM")),
    "NEXT": Part("NEXT", None),
}


def one_line(key: str, scope: str, role: str, number: str) -> PlainKit:
    return PlainKit(key, SCOPES[scope], (Line(role, PARTS[number], ONE),))


@pytest.fixture
def shop(cast):
    """Two models, each with a pump: one asks for rings, the other for a bearing. Kits of an EPDM ring, of an NBR ring
    and of a bearing; everything computed."""
    plain = Catalogue(
        models={
            "WET": [Position("casing-o-ring", ONE, number="RING-E", specification=ring("EPDM"))],
            "DRY": [Position("bearing-de", ONE, number="BEARING", specification=BEARING)],
        },
        parts=list(PARTS.values()),
        kits=[
            one_line("KIT-E", "full-overhaul", "casing-o-ring", "RING-E"),
            one_line("KIT-N", "gasket", "casing-o-ring", "RING-N"),
            one_line("KIT-B", "bearing", "bearing-de", "BEARING"),
        ],
        pumps=[
            PlainPump("WET", "A1", {}, "warm-water", Decimal(20), Decimal(40)),
            PlainPump("DRY", "A1", {}, "thin-oil", Decimal(20), Decimal(40)),
        ],
        replacements=[],
        ratings=[
            Rating(one, family, Decimal(100), "A") for one in ("EPDM", "NBR") for family in ("warm-water", "brine")
        ],
        limits=[Limit(one, None, Decimal(100), Decimal(80)) for one in ("EPDM", "NBR")],
        water=WATER,
    )
    write(plain, cast.north)
    drain()
    return cast


@pytest.fixture
def owner(shop):
    return shop.by("data-owner")


@pytest.fixture
def planner(shop):
    return shop.by("planner")


def marked() -> set[str]:
    """Kits by number and revision, build classes by their model's code."""
    kits = FitMark.objects.filter(kit__isnull=False).values_list("kit__item__number", "kit__item__revision")
    classes = FitMark.objects.filter(build_class__isnull=False)
    return {f"{number} {revision}" for number, revision in kits} | set(
        classes.values_list("build_class__pump_model__code", flat=True)
    )


def part_named(number: str) -> Item:
    return Item.objects.get(kind="part", number=number)


def kit_named(number: str) -> Kit:
    return Kit.objects.select_related("item").get(item__number=number, state="released")


def superseded(owner, old, new, *, days=0, both_ways=False):
    return register_supersession(
        by=owner,
        old_id=part_named(old).pk,
        new_id=part_named(new).pk,
        from_date=TODAY + datetime.timedelta(days=days),
        both_ways=both_ways,
    )


def changed_part(owner, number, **changes):
    item = part_named(number)
    change_part(by=owner, part_id=item.pk, expected_version=item.version, **changes)


def seen(kit):
    return Item.objects.get(pk=kit.pk).version


class TestParts:
    def test_a_part_that_becomes_another_marks_the_kits_with_it_on_a_line(self, owner):
        changed_part(owner, "RING-E", category="o-ring", specification="63.09x3.53 EPDM")
        assert marked() == {"KIT-E A"}

    def test_one_on_no_line_marks_nothing(self, owner):
        changed_part(owner, "SPARE", category="o-ring", specification="63.09x3.53 EPDM")
        assert marked() == set()

    def test_nor_does_a_new_one(self, owner):
        register_part(by=owner, number="RING-E2", name="R", category="o-ring", specification="50.39x3.53 EPDM")
        assert marked() == set()

    def test_name_and_price_do_not_matter_to_fit(self, owner):
        changed_part(owner, "RING-E", name="Ring", cost=Decimal(3), currency="EUR")
        assert marked() == set()

    def test_the_same_specification_once_more_marks_nothing(self, owner):
        changed_part(owner, "RING-E", category="o-ring", specification="50.39x3.53 EPDM")
        assert marked() == set()

    def test_another_number_marks_the_kits_with_it_on_a_line(self, shop):
        Item.objects.filter(number="RING-N", kind="part").update(number="RING-NBR")
        assert marked() == {"KIT-N A"}


class TestSupersessions:
    def test_one_marks_the_kits_that_hold_a_part_of_it(self, owner):
        superseded(owner, "RING-N", "SPARE")
        assert marked() == {"KIT-N A"}

    def test_it_marks_those_that_hold_a_part_further_along_its_chain(self, owner):
        superseded(owner, "SPARE", "RING-E")
        drain()
        superseded(owner, "NEXT", "SPARE")
        assert marked() == {"KIT-E A"}

    def test_changed_or_gone_it_marks_the_same(self, owner):
        made = superseded(owner, "RING-N", "SPARE")
        drain()
        change_supersession(by=owner, supersession_id=made.pk, expected_version=made.version, both_ways=True)
        assert marked() == {"KIT-N A"}
        drain()
        Supersession.objects.filter(pk=made.pk).delete()
        assert marked() == {"KIT-N A"}

    def test_between_parts_that_no_kit_holds_it_marks_nothing(self, owner):
        superseded(owner, "NEXT", "SPARE")
        assert marked() == set()

    def test_on_the_day_it_begins_the_kits_of_its_chain_are_computed_and_no_others(self, owner):
        superseded(owner, "RING-N", "SPARE")
        drain()
        FitDay.objects.update(day=TODAY - datetime.timedelta(days=1))
        assert compute_marked(limit=50) == 1


class TestMaterials:
    def test_a_rating_marks_the_kits_that_bring_its_material(self, shop):
        MaterialRating.objects.filter(material__code="EPDM", fluid_family__code="warm-water").update(rating="X")
        assert marked() == {"KIT-E A"}

    def test_so_does_one_more_and_one_less(self, shop):
        kept = MaterialRating.objects.get(material__code="NBR", fluid_family__code="warm-water")
        MaterialRating.objects.create(
            material=kept.material, fluid_family=kept.fluid_family, up_to_c=Decimal(60), rating="B", source="trial"
        )
        assert marked() == {"KIT-N A"}
        drain()
        kept.delete()
        assert marked() == {"KIT-N A"}

    def test_limits_mark_the_kits_that_bring_the_material(self, shop):
        MaterialLimit.objects.filter(material__code="NBR").update(air_max_c=Decimal(80))
        assert marked() == {"KIT-N A"}

    def test_a_material_that_no_kit_brings_marks_nothing(self, shop):
        Material.objects.create(code="VMQ", name="VMQ", source="trial")
        assert marked() == set()

    def test_advice_on_lubricants_marks_nothing(self, shop):
        LubricantAdvice.objects.update(note="Sparingly.")
        assert marked() == set()

    def test_a_family_that_counts_as_water_now_marks_the_pumps_in_its_fluids(self, shop):
        FluidFamily.objects.filter(code="thin-oil").update(is_water=True)
        assert marked() == {"DRY"}

    def test_its_name_marks_nothing(self, shop):
        FluidFamily.objects.filter(code="thin-oil").update(name="Thin oil")
        assert marked() == set()


class TestPositionsAndPumps:
    def test_a_position_marks_its_models_build_classes(self, owner):
        model = PumpModel.objects.get(code="WET")
        register_wear_position(by=owner, model_id=model.pk, role="circlip", quantity=ONE, part_number="CIRCLIP")
        assert marked() == {"WET"}

    def test_changed_or_gone_it_marks_the_same(self, owner):
        made = WearPosition.objects.get(pump_model__code="DRY")
        change_wear_position(by=owner, position_id=made.pk, expected_version=made.version, mandatory=False)
        assert marked() == {"DRY"}
        drain()
        WearPosition.objects.filter(pk=made.pk).delete()
        assert marked() == {"DRY"}

    def test_one_that_moves_marks_both_models(self, shop):
        WearPosition.objects.filter(role__code="bearing-de").update(pump_model=PumpModel.objects.get(code="WET"))
        assert marked() == {"WET", "DRY"}

    def test_a_models_speed_and_power_mark_nothing(self, owner):
        model = PumpModel.objects.get(code="WET")
        change_pump_model(by=owner, model_id=model.pk, expected_version=model.version, rated_power_kw=Decimal(5))
        assert marked() == set()

    def test_a_pump_like_one_that_is_known_marks_nothing(self, planner, shop):
        twin = Pump.objects.get(pump_model__code="WET")
        register_pump(
            by=planner,
            site_id=shop.north.pk,
            pump_model_id=twin.pump_model_id,
            tag="TWIN",
            serial_number="A2",
            fluid_id=twin.fluid_id,
            temperature_min_c=Decimal(21),
            temperature_max_c=Decimal(39),
            criticality="vital",
        )
        assert marked() == set()

    def test_one_of_a_new_build_class_marks_that_class(self, planner):
        pump = Pump.objects.get(pump_model__code="WET")
        brine = Fluid.objects.get(code="brine")
        change_pump(by=planner, pump_id=pump.pk, expected_version=pump.version, fluid_id=brine.pk)
        assert marked() == {"WET"}
        assert FitMark.objects.get().build_class_id == Pump.objects.get(pk=pump.pk).build_class_id

    def test_tag_and_state_mark_nothing(self, planner):
        pump = Pump.objects.get(pump_model__code="WET")
        change_pump(by=planner, pump_id=pump.pk, expected_version=pump.version, tag="P-9", state="standby")
        assert marked() == set()


class TestKits:
    def test_a_draft_marks_nothing_before_it_is_released(self, owner):
        draft = draft_kit(by=owner, number="KIT-E", revision="B", name="K", scope="trial-gasket")
        lines = [LineWanted(1, "casing-o-ring", part_named("RING-E").pk, ONE)]
        set_lines(by=owner, kit_id=draft.pk, expected_version=draft.item.version, lines=lines)
        assert marked() == set()
        release_kit(by=owner, kit_id=draft.pk, expected_version=seen(draft))
        assert marked() == {"KIT-E A", "KIT-E B"}

    def test_withdrawn_it_is_marked_and_its_fits_go(self, owner):
        kit = kit_named("KIT-B")
        assert kit.pk in {one for one, _ in stored_fits()}
        withdraw_kit(by=owner, kit_id=kit.pk, expected_version=seen(kit))
        assert marked() == {"KIT-B A"}
        drain()
        assert kit.pk not in {one for one, _ in stored_fits()}

    def test_name_and_price_do_not_matter_to_fit(self, owner):
        kit = kit_named("KIT-B")
        change_kit(by=owner, kit_id=kit.pk, expected_version=seen(kit), cost=Decimal(90), currency="EUR")
        assert marked() == set()

    def test_a_scopes_roles_mark_its_released_kits(self, owner):
        draft_kit(by=owner, number="KIT-D", revision="A", name="K", scope="trial-gasket")
        scope = KitScope.objects.get(code="trial-gasket")
        scope.roles.add(PositionRole.objects.get(code="circlip"))
        assert marked() == {"KIT-N A"}
        drain()
        scope.roles.remove(PositionRole.objects.get(code="circlip"))
        assert marked() == {"KIT-N A"}

    def test_another_scope_marks_the_kit(self, shop):
        kit = kit_named("KIT-N")
        Kit.objects.filter(pk=kit.pk).update(scope=KitScope.objects.get(code="trial-full-overhaul"))
        assert marked() == {"KIT-N A"}

    def test_what_its_maker_says_it_is_for_marks_the_kit(self, owner):
        kit, model = kit_named("KIT-E"), PumpModel.objects.get(code="DRY")
        declare_coverage(by=owner, kit_id=kit.pk, model_id=model.pk)
        assert marked() == {"KIT-E A"}

    def test_said_once_more_it_marks_nothing(self, owner):
        kit, model = kit_named("KIT-E"), PumpModel.objects.get(code="DRY")
        declare_coverage(by=owner, kit_id=kit.pk, model_id=model.pk)
        drain()
        declare_coverage(by=owner, kit_id=kit.pk, model_id=model.pk)
        assert marked() == set()


class TestMarks:
    def test_a_thing_that_changes_twice_is_marked_once_and_later(self, owner):
        changed_part(owner, "RING-E", category="o-ring", specification="63.09x3.53 EPDM")
        first = FitMark.objects.get().marked_at
        changed_part(owner, "RING-E", category="o-ring", specification="63.09x5.33 EPDM")
        assert FitMark.objects.get().marked_at > first

    def test_a_change_that_is_undone_leaves_no_mark(self, shop):
        with connection.cursor() as cursor:
            cursor.execute("SAVEPOINT before")
            Item.objects.filter(number="RING-N", kind="part").update(number="RING-NBR")
            assert marked() == {"KIT-N A"}
            cursor.execute("ROLLBACK TO SAVEPOINT before")
        assert marked() == set()
