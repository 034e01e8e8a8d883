"""Pumps from files: each is placed, told of and reported as if it had been registered alone."""

import datetime
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from assets.models import BuildClass, Fluid, FluidFamily, Maker, Pump, PumpModel, WearPosition
from assets.operations.build_classes import add_serial_cut_points, add_temperature_cut_points
from assets.operations.pump_loads import load_pumps
from assets.operations.pumps import register_pump
from services.api.loading import LoadRow
from services.changes.models import Change

pytestmark = pytest.mark.django_db

MANY = 60


@pytest.fixture
def catalogue(cast):
    maker = Maker.objects.create(code="norrvik", name="Norrvik Pumps")
    models = [
        PumpModel.objects.create(
            code=code, maker=maker, series="NB", designation=code, configuration="in-line",
            shaft_diameter_at_seal_mm=Decimal(43), rated_speed_rpm=Decimal(2900), rated_power_kw=Decimal(15),
        )
        for code in ("NB-40", "NB-50")
    ]  # fmt: skip
    WearPosition.objects.create(
        pump_model=models[0], role_id="casing-o-ring", quantity=1, part_number="OR-1", variant={"elastomer": "EPDM"}
    )
    for code in ("water", "glycol-water"):
        family, _ = FluidFamily.objects.get_or_create(code=code, defaults={"name": code})
        Fluid.objects.create(code=f"works-{code}", name=code, family=family)
    with transaction.atomic():
        add_serial_cut_points([(models[0].pk, "A30")])
        add_temperature_cut_points([Decimal(60), Decimal(80)])
    return {one.code: one for one in models}


def row(number, **changes):
    values = {
        "external_id": f"P{number}",
        "tag": f"T-{number}",
        "site": "north",
        "model": ("NB-40", "NB-50")[number % 2],
        "serial_number": f"A{number}",
        "elastomer": ("EPDM", "NBR", None)[number % 3],
        "seal_faces": None,
        "impeller_diameter_mm": Decimal(200 + number % 4),
        "fluid": ("works-water", "works-glycol-water")[number % 5 // 3],
        "temperature_min_c": Decimal(number % 3),
        "temperature_max_c": Decimal(55 + number % 7 * 5),
        "criticality": "essential",
        "state": None,
        "installed_on": datetime.date(2020, 1, 1 + number % 28),
    }
    return LoadRow(number + 2, {**values, **changes})


def load(by, rows):
    with transaction.atomic():
        return load_pumps(by=by, rows=rows)


def outcomes(by, rows):
    return [one.outcome for one in load(by, rows)]


def refusal(by, one):
    (outcome,) = load(by, [one])
    assert outcome.outcome == "refused"
    assert outcome.problems[0].remedy
    return outcome.problems[0].column


@pytest.mark.parametrize("count", [3, MANY])
def test_a_pump_of_a_file_is_kept_just_as_one_registered_alone(cast, catalogue, count):
    by = cast.by("integrator")
    with transaction.atomic():
        for number in range(count):
            values = row(number).values
            register_pump(
                by=by, site_id=cast.north.pk, pump_model_id=catalogue[values["model"]].pk, tag=values["tag"],
                serial_number=values["serial_number"], fluid_id=Fluid.objects.get(code=values["fluid"]).pk,
                temperature_min_c=values["temperature_min_c"], temperature_max_c=values["temperature_max_c"],
                criticality="essential", installed_on=values["installed_on"],
                variant={name: values[name] for name in ("elastomer", "impeller_diameter_mm")},
                external_ids={"file": values["external_id"]},
            )  # fmt: skip
    columns = [
        one.attname
        for one in Pump._meta.concrete_fields
        if one.name not in {"id", "version", "created_at", "updated_at", "build_class"}
    ]
    rows = Pump.objects.order_by("tag").values(*columns, "build_class__key")
    alone = list(rows)
    classes = set(BuildClass.objects.values_list("key", flat=True))
    Pump.objects.all().delete()
    BuildClass.objects.all().delete()

    assert set(outcomes(by, [row(number) for number in range(count)])) == {"created"}
    assert list(rows) == alone
    assert set(BuildClass.objects.values_list("key", flat=True)) == classes


def test_each_new_and_each_changed_pump_is_told_of_with_the_version_it_has(cast, catalogue):
    by = cast.by("integrator")
    load(by, [row(number) for number in range(MANY)])
    load(by, [row(number, state="standby" if number < 30 else None) for number in range(MANY)])
    pumps = {one.pk: one for one in Pump.objects.all()}
    new = list(Change.objects.filter(kind="pump.registered"))
    changed = list(Change.objects.filter(kind="pump.changed"))
    assert {one.noun_id for one in new} == set(pumps)
    assert (len(new), len(changed)) == (MANY, 30)
    for one in changed:
        pump = pumps[one.noun_id]
        assert (one.noun, one.noun_version, one.site_id, one.by_id) == ("pump", pump.version, cast.north.pk, by.id)
        assert one.body == {"tag": pump.tag, "serial_number": pump.serial_number, "state": "standby"}
        assert pump.version == 2
    assert {one.noun_version for one in new} == {1}


def test_the_same_file_again_changes_nothing(cast, catalogue):
    by = cast.by("integrator")
    rows = [row(number, temperature_max_c=Decimal("79.996")) for number in range(MANY)]
    load(by, rows)
    told = Change.objects.count()
    assert set(outcomes(by, rows)) == {"unchanged"}
    assert (Change.objects.count(), set(Pump.objects.values_list("version", flat=True))) == (told, {1})


def test_a_temperature_is_placed_as_it_is_kept(cast, catalogue):
    by = cast.by("integrator")
    load(by, [row(1, temperature_max_c=Decimal("80.004")), row(2, model="NB-50", temperature_max_c=Decimal("80.005"))])
    kept = dict(Pump.objects.values_list("tag", "temperature_max_c"))
    assert kept == {"T-1": Decimal("80.00"), "T-2": Decimal("80.01")}
    brackets = dict(Pump.objects.values_list("tag", "build_class__temperature_bracket"))
    assert brackets["T-1"] < brackets["T-2"]


def test_a_pump_whose_data_change_finds_another_class(cast, catalogue):
    by = cast.by("integrator")
    load(by, [row(0)])
    before = Pump.objects.get().build_class_id
    assert outcomes(by, [row(0, temperature_max_c=Decimal(90))]) == ["changed"]
    assert Pump.objects.get().build_class_id not in {None, before}


def test_a_pump_twice_in_a_file_is_one_pump_with_the_later_figures(cast, catalogue):
    by = cast.by("integrator")
    found = outcomes(
        by, [*(row(number) for number in range(MANY)), row(3, state="withdrawn"), row(3, state="withdrawn")]
    )
    assert found[-2:] == ["changed", "unchanged"]
    assert Pump.objects.get(tag="T-3").state == "withdrawn"
    assert Change.objects.filter(noun_id=Pump.objects.get(tag="T-3").pk).count() == 1


@pytest.mark.parametrize("already_kept", [True, False])
@pytest.mark.parametrize(
    ("taken", "column"),
    [({"tag": "T-1"}, "tag"), ({"model": "NB-50", "serial_number": "a 1"}, "serial_number")],
)
def test_a_tag_means_one_pump_at_a_site_and_a_serial_number_one_of_a_model(
    cast, catalogue, already_kept, taken, column
):
    by = cast.by("integrator")
    if already_kept:
        load(by, [row(1)])
        assert refusal(by, row(2, **taken)) == column
    else:
        first, second = load(by, [row(1), row(2, **taken)])
        assert (first.outcome, second.outcome) == ("created", "refused")
        assert second.problems[0].column == column
    assert Pump.objects.count() == 1


def test_the_same_tag_at_another_site_is_another_pump(cast, catalogue):
    by = cast.by("chief")
    assert outcomes(by, [row(1), row(3, tag="T-1", site="south")]) == ["created", "created"]


def test_a_file_cannot_take_a_pump_from_a_site_that_is_not_granted(cast, catalogue):
    load(cast.by("chief"), [row(1, site="south")])
    assert refusal(cast.by("integrator"), row(1, site="north")) == "external_id"
    assert Pump.objects.get().site == cast.south


@pytest.mark.parametrize(
    ("changes", "column"),
    [
        ({"site": "south"}, "site"),
        ({"site": "nowhere"}, "site"),
        ({"model": "NB-60"}, "model"),
        ({"fluid": "lava"}, "fluid"),
        ({"criticality": "some"}, "criticality"),
        ({"state": "lost"}, "state"),
        ({"elastomer": "wood"}, "elastomer"),
        ({"tag": "T" * 41}, "tag"),
        ({"serial_number": "A" * 41}, "serial_number"),
        ({"temperature_max_c": Decimal(10000)}, "temperature_max_c"),
        ({"temperature_min_c": Decimal(90), "temperature_max_c": Decimal(10)}, "temperature_max_c"),
    ],
)
def test_what_cannot_be_a_pump_is_refused_with_its_column(cast, catalogue, changes, column):
    assert refusal(cast.by("integrator"), row(1, **changes)) == column
    assert not Pump.objects.exists()


def test_a_mended_serial_number_is_noted(cast, catalogue):
    (outcome,) = load(cast.by("integrator"), [row(1, serial_number="a 17")])
    assert [one.detail for one in outcome.notes] == [
        "spaces taken out of the serial number",
        "serial number written in capitals",
    ]


def test_many_pumps_cost_the_queries_of_a_few(cast, catalogue):
    counts = []
    for first, count in ((0, 25), (100, 200)):
        with CaptureQueriesContext(
            connection,
        ) as seen:
            load(cast.by("integrator"), [row(number) for number in range(first, first + count)])
        counts.append(len(seen))
    assert counts[0] == counts[1]
