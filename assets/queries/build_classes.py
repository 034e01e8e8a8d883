"""Reading build classes and the cut points between them; and the class of a pump that is only described."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from assets.calculations.build_class import (
    between,
    build_class_key,
    lowest_bracket,
    relevant_variant_keys,
    temperature_bracket,
)
from assets.calculations.serial_ranges import Segments, normalise_serial
from assets.calculations.specification_base import SpecificationError, elastomer
from assets.models import BuildClass, Fluid, FluidFamily, Pump, PumpModel, SerialCutPoint, TemperatureCutPoint
from assets.queries.pump_models import variant_conditions
from services.api.models import as_uuid
from services.api.refusals import InvalidValue

# The lower one is absolute zero (SI Brochure, 9th edition, 2.3.1); the upper one is what a pump's record can hold.
COLDEST_C, HOTTEST_C = Decimal("-273.15"), Decimal("9999.99")
LONGEST_SERIAL = 40


def serial_cut_points(model_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[str]]:
    """Serial numbers at which something begins to differ, by model. One query."""
    found: dict[uuid.UUID, list[str]] = {}
    for model_id, serial in SerialCutPoint.objects.filter(pump_model_id__in=list(model_ids)).values_list(
        "pump_model_id", "serial"
    ):
        found.setdefault(model_id, []).append(serial)
    return found


def temperature_cut_points() -> list[Decimal]:
    """Temperatures at which some material's verdict changes, rising."""
    return list(TemperatureCutPoint.objects.order_by("celsius").values_list("celsius", flat=True))


def build_classes(ids: Iterable[uuid.UUID]) -> list[BuildClass]:
    """Build classes with their fluid family."""
    return list(BuildClass.objects.filter(pk__in=list(ids)).select_related("fluid_family"))


def build_class_id_of(one: BuildClass) -> uuid.UUID | None:
    """The id under which a class that was only described is known; None where no pump belongs to it. One query."""
    return BuildClass.objects.filter(key=one.key).values_list("id", flat=True).first()


def build_class_ids(model_ids: Iterable[uuid.UUID] | None = None) -> list[uuid.UUID]:
    """Ids of build classes, of some models or of all."""
    rows = BuildClass.objects.order_by("id")
    if model_ids is not None:
        rows = rows.filter(pump_model_id__in=list(model_ids))
    return list(rows.values_list("id", flat=True))


def class_of(pump: Pump, segments: Segments, degrees: Sequence[Decimal], relevant: frozenset[str]) -> BuildClass:
    """The class, unsaved, that a pump belongs to: found from its model's serial segments, the temperature cut
    points, and the variant entries that some position of its model asks about. Needs ``pump.fluid.family``; makes no
    query then."""
    brackets = (
        lowest_bracket(pump.temperature_min_c, degrees),
        temperature_bracket(pump.temperature_max_c, degrees),
    )
    segment = segments.of(pump.serial_number)
    return BuildClass(
        pump_model_id=pump.pump_model_id,
        key=build_class_key(
            model_id=pump.pump_model_id,
            serials=between(segments.cuts, segment),
            variant=pump.variant,
            relevant=relevant,
            fluid_family=pump.fluid.family.code,
            coldest=between(degrees, brackets[0]),
            hottest=between(degrees, brackets[1]),
        ),
        serial_segment=segment,
        sample_serial=pump.serial_number,
        variant={name: pump.variant[name] for name in sorted(relevant) if pump.variant.get(name)},
        fluid_family=pump.fluid.family,
        temperature_bracket=brackets[1],
        temperature_min_c=pump.temperature_min_c,
        temperature_max_c=pump.temperature_max_c,
    )


def described_class(
    model_id: Any,
    serial: str,
    variant: Mapping[str, Any] | None,
    fluid_family: str,
    temperature_min_c: Decimal,
    temperature_max_c: Decimal,
    *,
    fluid: str = "",
) -> BuildClass:
    """The class, unsaved, that a pump would belong to if it were registered as described; nothing is written.

    Arguments: a model's id, a serial as on the nameplate, as-built entries, the code of a fluid family or instead
    (with ``fluid_family`` empty) of a fluid, and the temperature range in degC. The answer's fluid family is loaded.
    Raises `InvalidValue` that points at the field: ``#/pump_model``, ``#/serial_number``, ``#/variant``, ``#/fluid``,
    ``#/fluid_family``, ``#/temperature_min_c``, ``#/temperature_max_c``. A serial may be left empty only where the
    model's parts are the same on all of them. Six queries at most.
    """
    key = as_uuid(model_id)
    model = PumpModel.objects.filter(pk=key).first() if key else None
    if model is None:
        raise InvalidValue(
            "There is no such pump model.",
            remedy="GET /pump-models lists them; POST /nameplates/match finds one by its nameplate.",
            pointer="#/pump_model",
        )
    _check_temperatures(temperature_min_c, temperature_max_c)
    family = _family_of(fluid_family, fluid)
    cuts = serial_cut_points([model.pk]).get(model.pk, [])
    pump = Pump(
        pump_model=model,
        serial_number=_serial(serial, cuts),
        variant=as_built(variant or {}),
        fluid=Fluid(family=family),
        temperature_min_c=temperature_min_c,
        temperature_max_c=temperature_max_c,
    )
    relevant = relevant_variant_keys(variant_conditions([model.pk]).get(model.pk, []))
    return class_of(pump, Segments(cuts), temperature_cut_points(), relevant)


def as_built(variant: Mapping[str, Any]) -> dict[str, str]:
    """A variant as stored: plain texts, the elastomer under its ISO 1629 code. Raises `InvalidValue`."""
    kept = {str(name): str(value).strip() for name, value in variant.items() if value not in (None, "")}
    if "elastomer" in kept:
        try:
            kept["elastomer"] = elastomer(kept["elastomer"])
        except SpecificationError as error:
            raise InvalidValue(error.what, remedy=error.remedy, pointer="#/variant/elastomer") from error
    return kept


def _check_temperatures(lowest: Decimal, highest: Decimal) -> None:
    for name, value in (("temperature_min_c", lowest), ("temperature_max_c", highest)):
        if not value.is_finite() or not COLDEST_C <= value <= HOTTEST_C:
            raise InvalidValue(
                f"No pump works at {value} degC.",
                remedy=f"Give degrees Celsius from {COLDEST_C} to {HOTTEST_C}.",
                pointer=f"#/{name}",
            )
    if lowest > highest:
        raise InvalidValue(
            "The lowest temperature is above the highest.",
            remedy="Give the range from low to high.",
            pointer="#/temperature_max_c",
        )


def _family_of(fluid_family: str, fluid: str) -> FluidFamily:
    if bool(fluid) == bool(fluid_family):
        raise InvalidValue(
            "The fluid is not said." if not fluid else "Both a fluid and a fluid family are said.",
            remedy="Give either fluid or fluid_family, by its code.",
            pointer="#/fluid",
        )
    if fluid:
        found = Fluid.objects.filter(code=fluid).select_related("family").first()
        if found is None:
            raise InvalidValue(f"{fluid!r} is no fluid.", remedy="GET /fluids lists them.", pointer="#/fluid")
        return found.family
    family = FluidFamily.objects.filter(code=fluid_family).first()
    if family is None:
        raise InvalidValue(
            f"{fluid_family!r} is no fluid family.",
            remedy="GET /fluid-families lists them.",
            pointer="#/fluid_family",
        )
    return family


def _serial(text: str, cuts: Sequence[str]) -> str:
    serial = normalise_serial(text)[0]
    if len(serial) > LONGEST_SERIAL:
        raise InvalidValue(
            f"The serial number is longer than {LONGEST_SERIAL} characters.",
            remedy="Give what stands after the serial number's label on the nameplate.",
            pointer="#/serial_number",
        )
    if not serial and cuts:
        raise InvalidValue(
            "Parts of this model differ by serial number.",
            remedy="Read the serial number from the nameplate.",
            pointer="#/serial_number",
        )
    return serial
