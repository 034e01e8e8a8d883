"""What a scanned code leads to: the thing, what must be said first, and what is needed next."""

import datetime
import uuid
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from django.conf import settings
from django.db.models import F

from assets.queries.sites import site_for
from jobs.calculations.label_codes import grouped, label_address
from jobs.calculations.scan_warnings import (
    OnShelf,
    Warned,
    expiry_warnings,
    gravest_first,
    is_expired,
    kit_warnings,
    pump_warnings,
    quarantine_warnings,
    shelf_warnings,
)
from jobs.models import LabelKind, ProcedureRevision
from jobs.queries.jobs import LIVE, jobs
from jobs.queries.labels import label_by_code
from jobs.refusals import LabelVoid
from kits.queries import in_hand
from kits.queries.fit import fits_of_pump
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller

MOST_PUMPS = 20
MOST_KITS = 5
MOST_JOBS = 20


def scanned(*, by: Caller, code: str, on: datetime.date, site_id: uuid.UUID | None = None) -> dict[str, Any]:
    """What a sound code leads to on a day, at the caller's sites or at one of them. A fixed number of queries.

    Raises `NotThere` for a code that is unknown or stands on something the caller may not know of, `LabelVoid`.
    """
    label = label_by_code(by, code)
    if label is None:
        raise NotThere("No label with this code is here.", remedy="Check the code, or ask for a role at its site.")
    if label["state"] == "void":
        raise LabelVoid(
            f"Label {grouped(code)} is void" + (f": {label['reason']}." if label["reason"] else "."),
            remedy="Do not go by it; take it off and have a new one printed.",
            active_code=label["active_code"],
        )
    if site_id is not None:
        site_for(by, site_id)
    answer: dict[str, Any] = {
        "code": code,
        "uri": label_address(settings.PUBLIC_ADDRESS, code),
        "state": label["state"],
        "active_code": label["active_code"],
        "kind": label["kind"],
        "on": on,
        "kit": None,
        "lot": None,
        "pump": None,
        "bin": None,
    }
    found = _replaced(label)
    if label["kind"] == LabelKind.KIT:
        answer["kit"], more = _kit(by, label["thing"], on, site_id)
    elif label["kind"] == LabelKind.LOT:
        answer["lot"], more = _lot(by, label["thing"], on, site_id)
        if answer["lot"]["item_kind"] == "kit":
            answer["kit"], of_kit = _kit(by, answer["lot"]["item"], on, site_id)
            more = [*more, *(one for one in of_kit if one.code.startswith("kit-"))]
    elif label["kind"] == LabelKind.PUMP:
        answer["pump"], more = _pump(by, label["thing"], on)
    else:
        answer["bin"], more = _bin(label["thing"], on)
    answer["warnings"] = [asdict(one) for one in gravest_first([*more, *found])]
    return answer


def _replaced(label: dict[str, Any]) -> list[Warned]:
    if label["state"] != "replaced":
        return []
    now = f"its label is {grouped(label['active_code'])} now" if label["active_code"] else "it has no label now"
    return [Warned("notice", "label-replaced", f"This label was replaced: {now}. Take the old one off.")]


def _kit(by: Caller, kit_id: Any, on: datetime.date, site_id: uuid.UUID | None) -> tuple[dict[str, Any], list[Warned]]:
    """Eight queries."""
    kit = in_hand.kit_in_hand(kit_id)
    stock = _stock(in_hand.stock_of_item(by, kit_id, site_id=site_id), on)
    kit["lots"] = [one for one in stock if one["may_be_fitted"]]
    kit["not_to_be_fitted"] = [one for one in stock if not one["may_be_fitted"]]
    kit["pumps"], kit["more_pumps"] = in_hand.pumps_of_kit(
        by, kit_id, in_hand.FITTING, most=MOST_PUMPS, site_id=site_id
    )
    kit["unsuitable_for"], kit["more_unsuitable"] = in_hand.pumps_of_kit(
        by, kit_id, in_hand.UNSUITABLE, most=MOST_PUMPS, site_id=site_id
    )
    kit["procedures"] = _procedures(in_hand.configurations_of_kit(by, kit_id, site_id=site_id))
    kit["jobs"] = _open_jobs(by, site_id, kit_id=kit_id)
    return kit, [*kit_warnings(kit["state"]), *shelf_warnings(map(_on_shelf, stock), on)]


def _lot(by: Caller, lot_id: Any, on: datetime.date, site_id: uuid.UUID | None) -> tuple[dict[str, Any], list[Warned]]:
    """Three queries."""
    lot = in_hand.lot_in_hand(lot_id)
    lot["item"] = lot.pop("of_item")
    lot["days_left"] = in_hand.days_left(lot["expires_on"], on)
    lot["places"] = _stock(in_hand.stock_of_lot(by, lot_id, site_id=site_id), on)
    lot["held_for"] = in_hand.jobs_holding_lot(by, lot_id, site_id=site_id)
    what = f"Lot {lot['number']}"
    return lot, [
        *expiry_warnings(what, lot["expires_on"], on),
        *quarantine_warnings(map(_on_shelf, lot["places"])),
    ]


def _pump(by: Caller, pump_id: Any, on: datetime.date) -> tuple[dict[str, Any], list[Warned]]:
    """Those of `fits_of_pump`, and three more."""
    pump = in_hand.pump_in_hand(pump_id)
    pump["site"] = pump.pop("site_id")
    fits = fits_of_pump(by=by, pump_id=pump_id, on=on)
    pump["pending"] = fits["pending"]
    pump["kits"] = [_best(one) for one in fits["kits"][:MOST_KITS]]
    pump["procedures"] = _procedures([pump["configuration"]])
    pump["jobs"] = _open_jobs(by, None, pump_id=pump_id)
    return pump, pump_warnings(
        fluid=pump["fluid_name"],
        hazard=pump["hazard"],
        lowest_c=pump["temperature_min_c"],
        highest_c=pump["temperature_max_c"],
    )


def _best(fit: dict[str, Any]) -> dict[str, Any]:
    """A kit for a pump, with the reasons that are not plain sameness of number."""
    kept = {name: fit[name] for name in ("kit", "number", "revision", "name", "scope", "verdict", "free_at_site")}
    kept["reasons"] = [one["sentence"] for one in fit["reasons"] if one["code"] != "exact"]
    return kept


def _bin(bin_id: Any, on: datetime.date) -> tuple[dict[str, Any], list[Warned]]:
    """Two queries."""
    place = in_hand.bin_in_hand(bin_id)
    place["site"] = place.pop("site_id")
    place["contents"] = _stock(in_hand.stock_in_bin(bin_id), on)
    return place, shelf_warnings(map(_on_shelf, place["contents"]), on)


def _stock(rows: list[dict[str, Any]], on: datetime.date) -> list[dict[str, Any]]:
    for row in rows:
        row["days_left"] = in_hand.days_left(row["expires_on"], on)
        row["may_be_fitted"] = row["condition"] == "usable" and not is_expired(row["expires_on"], on)
    return rows


def _on_shelf(row: dict[str, Any]) -> OnShelf:
    what = f"{row['item_number']} {row['item_revision']}".strip() + f", lot {row['lot_number']}"
    return OnShelf(
        f"{what} ({row['site_code']}, bin {row['bin_code']})",
        row["on_hand"],
        row["condition"] == "quarantined",
        row["expires_on"],
    )


def _procedures(configurations: Iterable[str]) -> list[dict[str, Any]]:
    """Published revisions for configurations of pumps. One query."""
    return plain_rows(
        ProcedureRevision.objects.filter(state="published", procedure__configuration__in=list(configurations))
        .order_by("procedure__code")
        .values(
            "id", "revision", "title", code=F("procedure__code"),
            configuration=F("procedure__configuration"),
        )
    )  # fmt: skip


def _open_jobs(by: Caller, site_id: uuid.UUID | None, **of: Any) -> list[dict[str, Any]]:
    """Jobs that are not closed or cancelled, the first planned first. One query."""
    found = jobs(by=by).filter(state__in=LIVE, **of)
    if site_id is not None:
        found = found.filter(site_id=site_id)
    return plain_rows(
        found.order_by("planned_start", "id").values(
            "id", "number", "state", "planned_start", pump_tag=F("pump__tag"), site_code=F("site__code"),
            kit_number=F("kit__item__number"), kit_revision=F("kit__item__revision"), assignee_name=F("assignee__name"),
        )[:MOST_JOBS]
    )  # fmt: skip
