"""Which build class each pump belongs to, and the cut points that make them.

A build class holds the pumps that no rule of fit can tell apart. It is found again whenever a pump, a wear position or
a cut point changes.
"""

import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.db import transaction

from assets.calculations.build_class import relevant_variant_keys
from assets.calculations.serial_ranges import normalise_serial
from assets.models import BuildClass, Pump, SerialCutPoint, TemperatureCutPoint
from assets.queries.build_classes import class_of, serial_cut_points, temperature_cut_points
from assets.queries.pump_models import variant_conditions


def place_pumps(pumps: Sequence[Pump]) -> None:
    """Give each pump its build class, in memory and in the database. A fixed number of queries.

    Pumps need ``fluid.family``. Must run inside a transaction.
    """
    models = {one.pump_model_id for one in pumps}
    cuts, degrees = serial_cut_points(models), temperature_cut_points()
    relevant = {model: relevant_variant_keys(asked) for model, asked in variant_conditions(models).items()}
    wanted: dict[str, BuildClass] = {}
    keys: dict[uuid.UUID, str] = {}
    for pump in pumps:
        one = class_of(pump, cuts.get(pump.pump_model_id, []), degrees, relevant.get(pump.pump_model_id, frozenset()))
        wanted.setdefault(one.key, one)
        keys[pump.pk] = one.key
    known = _known(wanted)
    fresh = [one for key, one in sorted(wanted.items()) if key not in known]
    BuildClass.objects.bulk_create(fresh, ignore_conflicts=True)
    known |= _known({one.key for one in fresh})
    moved = []
    for pump in pumps:
        if pump.build_class_id != known[keys[pump.pk]]:
            pump.build_class_id = known[keys[pump.pk]]
            moved.append(pump)
    Pump.objects.bulk_update(moved, ["build_class"], batch_size=1000)


def _known(keys: Iterable[str]) -> dict[str, uuid.UUID]:
    return dict(BuildClass.objects.filter(key__in=list(keys)).values_list("key", "id"))


def replace_pumps_of(model_ids: Iterable[uuid.UUID]) -> None:
    """Find the build classes of some models' pumps again, after a position or a serial cut point changed."""
    pumps = Pump.objects.filter(pump_model_id__in=list(model_ids)).select_related("fluid__family").order_by("id")
    place_pumps(list(pumps))


@transaction.atomic(savepoint=False)
def add_serial_cut_points(cuts: Iterable[tuple[uuid.UUID, str]]) -> None:
    """Make serial numbers known as first of a new segment, and place the models' pumps anew where one was new."""
    wanted = {(model, normalise_serial(serial)[0]) for model, serial in cuts if serial}
    known = set(
        SerialCutPoint.objects.filter(pump_model_id__in={model for model, _ in wanted}).values_list(
            "pump_model_id", "serial"
        )
    )
    fresh = sorted(wanted - known, key=str)
    if fresh:
        SerialCutPoint.objects.bulk_create(
            [SerialCutPoint(pump_model_id=model, serial=serial) for model, serial in fresh], ignore_conflicts=True
        )
        replace_pumps_of({model for model, _ in fresh})


@transaction.atomic(savepoint=False)
def add_temperature_cut_points(celsius: Iterable[Decimal]) -> None:
    """Make temperatures known at which a material's verdict changes, and place all pumps anew where one was new."""
    wanted = {Decimal(one).quantize(Decimal("0.01")) for one in celsius}
    fresh = sorted(wanted - set(temperature_cut_points()))
    if fresh:
        TemperatureCutPoint.objects.bulk_create(
            [TemperatureCutPoint(celsius=one) for one in fresh], ignore_conflicts=True
        )
        place_pumps(list(Pump.objects.select_related("fluid__family").order_by("id")))
