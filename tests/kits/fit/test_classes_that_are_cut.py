"""A cut that comes later: no pump may stay in a class that was made for another piece."""

import io
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.utils import timezone

from assets.models import BuildClass, Pump, PumpModel
from assets.operations.build_classes import add_temperature_cut_points
from assets.operations.pump_models import register_wear_position
from kits.models import MaterialRating
from tests.kits.fit.brute_force import Catalogue, Kit, Limit, Line, Part, Position, Rating
from tests.kits.fit.brute_force import Pump as SeenPump
from tests.kits.fit.stored import drain, fits_by_hand, read_back, stored_fits, write

pytestmark = pytest.mark.django_db
RING = {
    "category": "o-ring", "inside_diameter_mm": "50.39", "section_mm": "3.53", "material": "EPDM", "hardness_irhd": 70,
}  # fmt: skip


def catalogue(*pumps):
    ring = Part("OR-1", RING)
    asked = [
        Position("casing-o-ring", Decimal(1), number="OR-1", specification=RING),
        Position("bearing-de", Decimal(1), number="BE-1", serial_from="B1"),
    ]
    scope = frozenset({"casing-o-ring", "bearing-de", "shaft-seal", "cover-gasket", "circlip", "wear-ring-casing"})
    return Catalogue(
        models={"M0": asked},
        parts=[ring],
        kits=[Kit("K0", scope, (Line("casing-o-ring", ring, Decimal(1)),))],
        pumps=[SeenPump("M0", serial, {}, "warm-water", Decimal(20), Decimal(hottest)) for serial, hottest in pumps],
        replacements=[],
        ratings=[Rating("EPDM", "warm-water", Decimal(100), "A")],
        limits=[Limit("EPDM", Decimal(-40), Decimal(130), Decimal(120))],
        water=frozenset({"warm-water", "brine"}),
    )


def agree():
    drain()
    assert stored_fits() == fits_by_hand(read_back(), timezone.now().date())


def test_a_serial_cut_below_others(cast):
    """A12 and B5 stand in neighbouring segments; a cut at A11Z counts each of them one up."""
    write(catalogue(("A12", 40), ("B5", 40)), cast.north)
    agree()
    model = PumpModel.objects.get(code="M0")
    register_wear_position(
        by=cast.by("data-owner"), model_id=model.pk, role="deflector", quantity=Decimal(1), serial_from="A11Z",
        part_number="X",
    )  # fmt: skip
    agree()


def test_a_temperature_between_two_pumps(cast):
    write(catalogue(("A12", 90), ("A13", 110)), cast.north)
    agree()
    rating = MaterialRating.objects.get()
    MaterialRating.objects.create(
        material=rating.material, fluid_family=rating.fluid_family, up_to_c=Decimal(85), rating="A", source="x"
    )
    add_temperature_cut_points([Decimal(85)])
    agree()


def test_a_class_keyed_in_an_older_way_is_left_when_the_tables_are_put_in(cast):
    write(catalogue(("A12", 40)), cast.north)
    kept = BuildClass.objects.get()
    BuildClass.objects.filter(pk=kept.pk).update(key=f"{kept.pump_model_id}|0||warm-water|3|4")
    out = io.StringIO()
    call_command("load_trade_tables", stdout=out)
    assert "1 pumps placed" in out.getvalue()
    assert Pump.objects.get().build_class_id != kept.pk
    assert not BuildClass.objects.filter(pk=kept.pk).exists()
