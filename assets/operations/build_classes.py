"""Which build class each pump belongs to, and the cut points that make them.

A build class holds the pumps that no rule of fit can tell apart. It is found again whenever a pump, a wear position or
a cut point changes.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.calculations.build_class import relevant_variant_keys
from assets.calculations.serial_ranges import Segments, normalise_serial
from assets.models import BuildClass, Fluid, Pump, SerialCutPoint, TemperatureCutPoint
from assets.queries.build_classes import class_of, serial_cut_points, temperature_cut_points
from assets.queries.pump_models import variant_conditions
from services.api.many_rows import insert_missing, update_many

PLACED_BY = (
    "pump_model_id", "serial_number", "variant", "fluid_id", "temperature_min_c", "temperature_max_c",
)  # fmt: skip


class ClassFinder:
    """Finds the build classes of pumps of some models, one after the other. Five queries, and three to save."""

    def __init__(self, model_ids: Iterable[uuid.UUID]) -> None:
        models = set(model_ids)
        self._cuts, self._degrees = serial_cut_points(models), temperature_cut_points()
        self._segments = {model: Segments(cuts) for model, cuts in self._cuts.items()}
        self._relevant = {one: relevant_variant_keys(asked) for one, asked in variant_conditions(models).items()}
        self._asked = {model: sorted(names) for model, names in self._relevant.items()}
        self._fluids = {one.pk: one for one in Fluid.objects.select_related("family")}
        self._known: dict[tuple[Any, ...], str] = {}
        self._wanted: dict[str, BuildClass] = {}

    def key_of(
        self,
        *,
        pump_model_id: uuid.UUID,
        serial_number: str,
        variant: Mapping[str, str],
        fluid_id: uuid.UUID,
        temperature_min_c: Decimal,
        temperature_max_c: Decimal,
    ) -> str:
        """The key of a pump's class, which `ids_by_key` then knows."""
        segments = self._segments.get(pump_model_id)
        seen = (
            pump_model_id,
            segments.of(serial_number) if segments else 0,
            *[variant.get(name) for name in self._asked.get(pump_model_id, ())],
            fluid_id,
            temperature_min_c,
            temperature_max_c,
        )
        key = self._known.get(seen)
        if key is None:
            pump = Pump(
                pump_model_id=pump_model_id,
                serial_number=serial_number,
                variant=variant,
                fluid=self._fluids[fluid_id],
                temperature_min_c=temperature_min_c,
                temperature_max_c=temperature_max_c,
            )
            cuts, relevant = self._cuts.get(pump_model_id, []), self._relevant.get(pump_model_id, frozenset())
            found = class_of(pump, cuts, self._degrees, relevant)
            key = self._known[seen] = found.key
            self._wanted.setdefault(key, found)
        return key

    def ids_by_key(self) -> dict[str, uuid.UUID]:
        """Ids of the classes found so far; those that were not there are made. Must run inside a transaction."""
        known = _known(self._wanted)
        fresh = [one for key, one in sorted(self._wanted.items()) if key not in known]
        insert_missing(fresh)
        return known | _known({one.key for one in fresh})


def place_pumps(pumps: Sequence[Pump]) -> None:
    """Give each pump its build class, in memory and in the database. A fixed number of queries. Must run inside a
    transaction."""
    finder = ClassFinder(one.pump_model_id for one in pumps)
    keys = [finder.key_of(**{name: getattr(one, name) for name in PLACED_BY}) for one in pumps]
    known = finder.ids_by_key()
    moved = []
    for pump, key in zip(pumps, keys, strict=True):
        if pump.build_class_id != known[key]:
            pump.build_class_id = known[key]
            moved.append(pump)
    update_many(moved, ["build_class"])


def _known(keys: Iterable[str]) -> dict[str, uuid.UUID]:
    wanted = list(keys)
    return dict(BuildClass.objects.filter(key__among=wanted).values_list("key", "id")) if wanted else {}


def replace_pumps_of(model_ids: Iterable[uuid.UUID]) -> None:
    """Find the build classes of some models' pumps again, after a position or a serial cut point changed."""
    place_pumps(list(Pump.objects.filter(pump_model_id__in=list(model_ids)).order_by("id")))


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
        insert_missing([SerialCutPoint(pump_model_id=model, serial=serial) for model, serial in fresh])
        replace_pumps_of({model for model, _ in fresh})


@transaction.atomic(savepoint=False)
def add_temperature_cut_points(celsius: Iterable[Decimal]) -> None:
    """Make temperatures known at which a material's verdict changes, and place all pumps anew where one was new."""
    wanted = {Decimal(one).quantize(Decimal("0.01")) for one in celsius}
    fresh = sorted(wanted - set(temperature_cut_points()))
    if fresh:
        insert_missing([TemperatureCutPoint(celsius=one) for one in fresh])
        place_pumps(list(Pump.objects.order_by("id")))
