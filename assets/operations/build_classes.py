"""Which build class each pump belongs to, and the cut points that make them.

A build class holds the pumps that no rule of fit can tell apart. It is found again whenever a pump, a wear position or
a cut point changes.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.calculations.build_class import (
    between,
    build_class_key,
    lowest_bracket,
    relevant_variant_keys,
    temperature_bracket,
)
from assets.calculations.serial_ranges import Segments, normalise_serial
from assets.models import BuildClass, Fluid, Pump, SerialCutPoint, TemperatureCutPoint, VariantCutPoint
from assets.queries.build_classes import class_of, serial_cut_points, temperature_cut_points
from assets.queries.pump_models import variant_conditions
from services.api.many_rows import insert_missing, update_many

PLACED_BY = (
    "pump_model_id", "serial_number", "variant", "fluid_id", "temperature_min_c", "temperature_max_c",
)  # fmt: skip


@dataclass(frozen=True)
class _Model:
    """What tells pumps of a model apart. ``place`` stands for its id, of which many rows would need the hash."""

    place: int
    segments: Segments
    relevant: frozenset[str]


class ClassFinder:
    """Finds the build classes of pumps of some models, one after the other. Five queries, and three to save."""

    def __init__(self, model_ids: Iterable[uuid.UUID]) -> None:
        models = set(model_ids)
        self._degrees, cuts, asked = temperature_cut_points(), serial_cut_points(models), variant_conditions(models)
        self._models = {
            one: _Model(place, Segments(cuts.get(one, ())), relevant_variant_keys(asked.get(one, ())))
            for place, one in enumerate(models)
        }
        self._fluids = {one.pk: one for one in Fluid.objects.select_related("family")}
        self._keys: dict[tuple[Any, ...], str] = {}
        self._wanted: dict[str, Mapping[str, Any]] = {}

    def key_of(self, pump: Mapping[str, Any]) -> str:
        """The key of the class of a pump with these figures (`PLACED_BY`), which `ids_by_key` then knows."""
        model, variant = self._models[pump["pump_model_id"]], pump["variant"]
        segment = model.segments.of(pump["serial_number"])
        alike = (
            model.place, segment, pump["fluid_id"], pump["temperature_min_c"], pump["temperature_max_c"],
            *[variant.get(name) for name in model.relevant],
        )  # fmt: skip
        key = self._keys.get(alike)
        if key is None:
            key = self._keys[alike] = self._key(pump, model, segment)
            self._wanted.setdefault(key, pump)
        return key

    def _key(self, pump: Mapping[str, Any], model: "_Model", segment: int) -> str:
        return build_class_key(
            model_id=pump["pump_model_id"],
            serials=between(model.segments.cuts, segment),
            variant=pump["variant"],
            relevant=model.relevant,
            fluid_family=self._fluids[pump["fluid_id"]].family.code,
            coldest=between(self._degrees, lowest_bracket(pump["temperature_min_c"], self._degrees)),
            hottest=between(self._degrees, temperature_bracket(pump["temperature_max_c"], self._degrees)),
        )

    def ids_by_key(self) -> dict[str, uuid.UUID]:
        """Ids of the classes found so far; those that were not there are made. Must run inside a transaction."""
        known = _known(self._wanted)
        fresh = [self._class_of(pump) for key, pump in sorted(self._wanted.items(), key=_by_key) if key not in known]
        insert_missing(fresh)
        return known | _known({one.key for one in fresh})

    def _class_of(self, figures: Mapping[str, Any]) -> BuildClass:
        pump = Pump(**{name: figures[name] for name in PLACED_BY})
        pump.fluid = self._fluids[pump.fluid_id]
        model = self._models[pump.pump_model_id]
        return class_of(pump, model.segments, self._degrees, model.relevant)


def _by_key(item: tuple[str, Any]) -> str:
    return item[0]


def place_pumps(pumps: Sequence[Pump]) -> None:
    """Give each pump its build class, in memory and in the database. A fixed number of queries. Must run inside a
    transaction."""
    finder = ClassFinder(one.pump_model_id for one in pumps)
    keys = [finder.key_of({name: getattr(one, name) for name in PLACED_BY}) for one in pumps]
    known = finder.ids_by_key()
    moved = []
    for pump, key in zip(pumps, keys, strict=True):
        if pump.build_class_id != known[key]:
            pump.build_class_id = known[key]
            moved.append(pump)
    update_many(moved, ["build_class"])


@transaction.atomic(savepoint=False)
def place_outdated_pumps() -> int:
    """Place pumps anew whose class was keyed in an older way, and take out such classes; how many pumps. For the
    installer only: it passes no gate."""
    outdated = list(Pump.objects.filter(build_class__key__regex=r"\|.*\|").order_by("id"))
    place_pumps(outdated)
    BuildClass.objects.filter(key__regex=r"\|.*\|", pumps__isnull=True).delete()
    return len(outdated)


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
def add_variant_cut_points(names: Iterable[tuple[uuid.UUID, str]]) -> None:
    """Make as-built entries known by which pumps of a model are told apart, and place its pumps anew where one was
    new."""
    wanted = set(names)
    models = {model for model, _ in wanted}
    known = set(VariantCutPoint.objects.filter(pump_model_id__in=models).values_list("pump_model_id", "name"))
    fresh = sorted(wanted - known, key=str)
    if fresh:
        insert_missing([VariantCutPoint(pump_model_id=model, name=name) for model, name in fresh])
        replace_pumps_of({model for model, _ in fresh})


@transaction.atomic(savepoint=False)
def add_temperature_cut_points(celsius: Iterable[Decimal]) -> None:
    """Make temperatures known at which a material's verdict changes, and place all pumps anew where one was new."""
    wanted = {Decimal(one).quantize(Decimal("0.01")) for one in celsius}
    fresh = sorted(wanted - set(temperature_cut_points()))
    if fresh:
        insert_missing([TemperatureCutPoint(celsius=one) for one in fresh])
        place_pumps(list(Pump.objects.order_by("id")))
