"""Reading build classes and the cut points between them."""

import uuid
from collections.abc import Iterable
from decimal import Decimal

from assets.models import BuildClass, SerialCutPoint, TemperatureCutPoint


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


def build_class_ids(model_ids: Iterable[uuid.UUID] | None = None) -> list[uuid.UUID]:
    """Ids of build classes, of some models or of all."""
    rows = BuildClass.objects.order_by("id")
    if model_ids is not None:
        rows = rows.filter(pump_model_id__in=list(model_ids))
    return list(rows.values_list("id", flat=True))
