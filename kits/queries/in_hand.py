"""What somebody asks who holds a kit or a lot in the hand, or stands before a bin: where, how long, for which pumps."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Case, F, IntegerField, QuerySet, Value, When

from assets.access import narrow
from assets.models import Bin, Criticality, Pump
from kits.calculations.fit import VERDICT_ORDER
from kits.models import Allocation, Balance, FitMark, Kit, Lot
from services.api.rows import plain_rows
from services.identity.callers import Caller

MOST_LOTS = 50
MOST_IN_A_BIN = 200
FITTING = ("fits", "fits-with-notes", "incomplete")
UNSUITABLE = ("unsuitable",)


def _at(rows: QuerySet[Any], by: Caller, site_id: uuid.UUID | None, path: str = "site_id") -> QuerySet[Any]:
    """Rows at the caller's sites, or at one of them."""
    narrowed = narrow(rows, by, path=path)
    return narrowed if site_id is None else narrowed.filter(**{path: site_id})


def _order_of(path: str, ranks: Mapping[str, int]) -> Case:
    """A column's values in the order of the trade."""
    whens = [When(**{path: value}, then=Value(rank)) for value, rank in ranks.items()]
    return Case(*whens, default=Value(len(ranks)), output_field=IntegerField())


def kit_in_hand(kit_id: uuid.UUID) -> dict[str, Any]:
    """A revision of a kit, and whether its fits are being computed anew. Two queries."""
    row = dict(
        Kit.objects.filter(pk=kit_id)
        .values(
            "state", id=F("item_id"), number=F("item__number"), revision=F("item__revision"), name=F("item__name"),
            scope_code=F("scope__code"), scope_name=F("scope__name"),
        )
        .get()
    )  # fmt: skip
    row["scope"] = row.pop("scope_code")
    row["pending"] = FitMark.objects.filter(kit_id=kit_id).exists()
    return row


def lot_in_hand(lot_id: uuid.UUID) -> dict[str, Any]:
    """A lot with its item. One query."""
    return dict(
        Lot.objects.filter(pk=lot_id)
        .values(
            "id", "number", "received_on", "cure_date", "expires_on", "extended_at", item_kind=F("item__kind"),
            item_number=F("item__number"), item_revision=F("item__revision"), item_name=F("item__name"),
            of_item=F("item_id"),
        )
        .get()
    )  # fmt: skip


def bin_in_hand(bin_id: uuid.UUID) -> dict[str, Any]:
    """A bin with its site. One query."""
    return dict(
        Bin.objects.filter(pk=bin_id)
        .values("id", "code", "name", "is_default", "site_id", site_code=F("site__code"), site_name=F("site__name"))
        .get()
    )


def pump_in_hand(pump_id: uuid.UUID) -> dict[str, Any]:
    """A pump with its model, its fluid and that fluid's hazard. One query."""
    return dict(
        Pump.objects.filter(pk=pump_id)
        .values(
            "id", "tag", "serial_number", "criticality", "state", "variant", "temperature_min_c",
            "temperature_max_c", "site_id", site_code=F("site__code"), site_name=F("site__name"),
            model_code=F("pump_model__code"), series=F("pump_model__series"),
            designation=F("pump_model__designation"), configuration=F("pump_model__configuration"),
            fluid_name=F("fluid__name"), hazard=F("fluid__hazard"),
        )
        .get()
    )  # fmt: skip


def _on_shelves(balances: QuerySet[Balance], most: int) -> list[dict[str, Any]]:
    """Balances that hold anything, the first to expire first, what has no expiry last."""
    rows = plain_rows(
        balances.filter(on_hand__gt=0)
        .order_by(F("lot__expires_on").asc(nulls_last=True), "lot__received_on", "lot__number", "bin__code", "id")
        .values(
            "on_hand", "reserved", "condition", on_lot=F("lot_id"), lot_number=F("lot__number"),
            expires_on=F("lot__expires_on"), of_item=F("item_id"), item_number=F("item__number"),
            item_revision=F("item__revision"), item_name=F("item__name"), site_code=F("site__code"),
            bin_code=F("bin__code"),
        )[:most]
    )  # fmt: skip
    for row in rows:
        row["lot"], row["item"] = row.pop("on_lot"), row.pop("of_item")
    return rows


def stock_of_item(by: Caller, item_id: uuid.UUID, *, site_id: uuid.UUID | None = None) -> list[dict[str, Any]]:
    """What lies of an item at the caller's sites, the first to expire first; at most `MOST_LOTS`. One query."""
    return _on_shelves(_at(Balance.objects.filter(item_id=item_id), by, site_id), MOST_LOTS)


def stock_of_lot(by: Caller, lot_id: uuid.UUID, *, site_id: uuid.UUID | None = None) -> list[dict[str, Any]]:
    """Where a lot lies at the caller's sites. One query."""
    return _on_shelves(_at(Balance.objects.filter(lot_id=lot_id), by, site_id), MOST_LOTS)


def stock_in_bin(bin_id: uuid.UUID) -> list[dict[str, Any]]:
    """What lies in a bin, the first to expire first; at most `MOST_IN_A_BIN`. One query; callers passed the gate."""
    return _on_shelves(Balance.objects.filter(bin_id=bin_id), MOST_IN_A_BIN)


def jobs_holding_lot(by: Caller, lot_id: uuid.UUID, *, site_id: uuid.UUID | None = None) -> list[dict[str, Any]]:
    """Jobs that a lot is reserved for at the caller's sites, the first to need it first. One query."""
    held = Allocation.objects.filter(balance__lot_id=lot_id, reservation__state="hard", quantity__gt=F("issued"))
    return plain_rows(
        _at(held, by, site_id, "balance__site_id")
        .order_by("reservation__need_date", "id")
        .values(
            "quantity", job=F("reservation__job_id"), number=F("reservation__job_number"),
            need_date=F("reservation__need_date"),
        )[:MOST_LOTS]
    )  # fmt: skip


def _pumps(by: Caller, kit_id: uuid.UUID, verdicts: Sequence[str], site_id: uuid.UUID | None) -> QuerySet[Pump]:
    computed = Pump.objects.filter(build_class__fits__kit_id=kit_id, build_class__fits__verdict__in=verdicts)
    return _at(computed.exclude(state="withdrawn"), by, site_id)


def pumps_of_kit(
    by: Caller, kit_id: uuid.UUID, verdicts: Sequence[str], *, most: int, site_id: uuid.UUID | None = None
) -> tuple[list[dict[str, Any]], bool]:
    """Installed pumps at the caller's sites for which the kit has one of the verdicts; and whether there are more.

    The most critical first, then the best verdict, then by tag. One query.
    """
    rows = plain_rows(
        _pumps(by, kit_id, verdicts, site_id)
        .annotate(
            critical=_order_of("criticality", {value: rank for rank, value in enumerate(Criticality.values)}),
            verdict=F("build_class__fits__verdict"),
            how_well=_order_of("build_class__fits__verdict", VERDICT_ORDER),
        )
        .order_by("critical", "how_well", "tag", "id")
        .values("id", "tag", "criticality", "state", "verdict", site_code=F("site__code"),
                model_code=F("pump_model__code"))[: most + 1]
    )  # fmt: skip
    return rows[:most], len(rows) > most


def configurations_of_kit(by: Caller, kit_id: uuid.UUID, *, site_id: uuid.UUID | None = None) -> list[str]:
    """Configurations of the pumps at the caller's sites that the kit fits. One query."""
    found = _pumps(by, kit_id, FITTING, site_id).values_list("pump_model__configuration", flat=True)
    return sorted(set(found.distinct()))


def days_left(expires_on: datetime.date | None, on: datetime.date) -> int | None:
    """Days until the last day of use; 0 on that day, negative after it; None where nothing ages."""
    return None if expires_on is None else (expires_on - on).days
