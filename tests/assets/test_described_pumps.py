"""A pump that is only described is judged exactly as if it were registered, and nothing of it is kept."""

from decimal import Decimal

import pytest
from django.db import transaction

from assets.models import BuildClass, Fluid, FluidFamily, Maker, Pump, PumpModel, WearPosition
from assets.operations.build_classes import add_serial_cut_points, add_temperature_cut_points
from assets.operations.pumps import register_pump
from assets.queries.build_classes import described_class
from services.api.refusals import InvalidValue

pytestmark = pytest.mark.django_db

OWN_TO_THE_ROW = {"id", "version", "created_at", "updated_at"}
CUTS = [Decimal(-30), Decimal(80), Decimal(120)]


@pytest.fixture
def model():
    made = PumpModel.objects.create(
        code="NB-40-200",
        maker=Maker.objects.create(code="norrvik", name="Norrvik Pumps"),
        series="NB",
        designation="65-40-200",
        configuration="long-coupled-back-pull-out",
        shaft_diameter_at_seal_mm=Decimal(43),
        rated_speed_rpm=Decimal(2900),
        rated_power_kw=Decimal(15),
    )
    WearPosition.objects.create(
        pump_model=made, role_id="casing-o-ring", quantity=1, part_number="OR-1", variant={"elastomer": "EPDM"}
    )
    with transaction.atomic():
        add_serial_cut_points([(made.pk, "NB2020-0001")])
        add_temperature_cut_points(CUTS)
    return made


@pytest.fixture
def brine():
    family, _ = FluidFamily.objects.get_or_create(code="brine", defaults={"name": "Brine"})
    return Fluid.objects.create(code="cold-brine", name="Cold brine", family=family)


def described(model, brine, **changes):
    given = {
        "model_id": model.pk,
        "serial": "NB2019-7",
        "variant": {"elastomer": "EPDM"},
        "fluid_family": "brine",
        "temperature_min_c": Decimal(-8),
        "temperature_max_c": Decimal(5),
    }
    return described_class(**{**given, **changes})


class TestDescribedPump:
    @pytest.mark.parametrize("serial", ["NB2019-7", "nb2020 -0001", "NB2021-3"])
    @pytest.mark.parametrize(
        "variant", [{}, {"elastomer": "epdm"}, {"elastomer": "NBR", "impeller_diameter_mm": "209"}]
    )
    @pytest.mark.parametrize(("low", "high"), [(-30, 80), (-31, 81), (5, 130)])
    def test_it_belongs_to_the_class_that_registering_it_gives(self, cast, model, brine, serial, variant, low, high):
        described_as = described(
            model,
            brine,
            serial=serial,
            variant=variant,
            temperature_min_c=Decimal(low),
            temperature_max_c=Decimal(high),
        )
        assert not BuildClass.objects.exists()
        assert not Pump.objects.exists()
        with transaction.atomic():
            pump = register_pump(
                by=cast.by("integrator"),
                site_id=cast.north.pk,
                pump_model_id=model.pk,
                tag="P-1",
                serial_number=serial,
                variant=variant,
                fluid_id=brine.pk,
                temperature_min_c=Decimal(low),
                temperature_max_c=Decimal(high),
                criticality="vital",
            )
        names = [one.attname for one in BuildClass._meta.concrete_fields if one.attname not in OWN_TO_THE_ROW]
        assert [getattr(described_as, one) for one in names] == [getattr(pump.build_class, one) for one in names]
        assert described_as.fluid_family.code == "brine"

    def test_a_fluid_stands_for_its_family(self, model, brine):
        assert described(model, brine, fluid_family="", fluid="cold-brine").key == described(model, brine).key

    def test_it_takes_a_fixed_number_of_queries(self, model, brine, django_assert_num_queries):
        with django_assert_num_queries(6):
            described(model, brine)
        for place in range(5):
            WearPosition.objects.create(
                pump_model=model, role_id="cover-gasket", quantity=1, part_number=f"G-{place}", variant={"casing": "x"}
            )
        with django_assert_num_queries(6):
            described(model, brine, fluid_family="", fluid="cold-brine")

    @pytest.mark.parametrize(
        ("changes", "pointer"),
        [
            ({"model_id": "0199a0c4-0000-7000-8000-000000000001"}, "#/pump_model"),
            ({"model_id": "no id"}, "#/pump_model"),
            ({"serial": ""}, "#/serial_number"),
            ({"serial": "9" * 41}, "#/serial_number"),
            ({"variant": {"elastomer": "cheese"}}, "#/variant/elastomer"),
            ({"fluid_family": "moonlight"}, "#/fluid_family"),
            ({"fluid_family": "", "fluid": "moonlight"}, "#/fluid"),
            ({"fluid_family": ""}, "#/fluid"),
            ({"fluid": "cold-brine"}, "#/fluid"),
            ({"temperature_min_c": Decimal("-273.16")}, "#/temperature_min_c"),
            ({"temperature_min_c": Decimal("NaN")}, "#/temperature_min_c"),
            ({"temperature_max_c": Decimal(10000)}, "#/temperature_max_c"),
            ({"temperature_max_c": Decimal("Infinity")}, "#/temperature_max_c"),
            ({"temperature_max_c": Decimal(-9)}, "#/temperature_max_c"),
        ],
    )
    def test_what_cannot_be_is_refused_and_the_field_named(self, model, brine, changes, pointer):
        with pytest.raises(InvalidValue) as refused:
            described(model, brine, **changes)
        assert [one.pointer for one in refused.value.problems] == [pointer]
        assert refused.value.remedy

    def test_a_serial_may_be_missing_where_all_serials_are_alike(self, model, brine):
        model.serial_cut_points.all().delete()
        assert described(model, brine, serial="").serial_segment == 0
