"""Reading labels, and the things that labels stand on: a label is known to who may know its thing."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.db.models.functions import Coalesce

from assets.access import narrow, sites_with
from assets.queries.pumps import pumps
from assets.queries.sites import bins
from jobs.models import Label, LabelKind
from kits.models import Balance, Movement
from kits.queries.kits import kits
from kits.queries.lots import lots
from services.api.rows import plain_rows
from services.identity.callers import Caller


@dataclass(frozen=True)
class Thing:
    """What a label stands on: a kit, a lot, a pump or a bin."""

    kind: str
    id: uuid.UUID


def labels(*, by: Caller) -> QuerySet[Any, Any]:
    """Labels of kits, of lots that moved at granted sites, and of granted sites' pumps and bins.

    Each with ``thing``, ``number``, ``site`` and ``site_code`` of what it stands on; kits and lots are of no one site.
    """
    found: QuerySet[Any, Any] = Label.objects.annotate(
        thing=Coalesce("kit_id", "lot_id", "pump_id", "bin_id"),
        number=Coalesce("kit__item__number", "lot__number", "pump__tag", "bin__code"),
        site=Coalesce("pump__site_id", "bin__site_id"),
        site_code=Coalesce("pump__site__code", "bin__site__code"),
        next_code=F("replaced_by__code"),
    )
    sites = sites_with(by)
    if sites is None:
        return found
    return found.filter(
        Q(kind=LabelKind.KIT)
        | Q(pump__site_id__in=sites)
        | Q(bin__site_id__in=sites)
        | Q(Exists(narrow(Movement.objects.filter(lot_id=OuterRef("lot_id")), by)))
    )


def things_known(by: Caller, wanted: Iterable[Thing]) -> dict[Thing, uuid.UUID | None]:
    """Those of the things that the caller may know of, each with its site where it has one. At most four queries."""
    ids: dict[str, list[uuid.UUID]] = {}
    for one in wanted:
        ids.setdefault(one.kind, []).append(one.id)
    found: dict[Thing, uuid.UUID | None] = {}
    if LabelKind.PUMP in ids:
        for pk, site in pumps(by=by).filter(pk__in=ids[LabelKind.PUMP]).values_list("id", "site_id"):
            found[Thing("pump", pk)] = site
    if LabelKind.BIN in ids:
        for pk, site in bins(by=by).filter(pk__in=ids[LabelKind.BIN]).values_list("id", "site_id"):
            found[Thing("bin", pk)] = site
    if LabelKind.LOT in ids:
        for pk in lots(by=by).filter(pk__in=ids[LabelKind.LOT]).values_list("id", flat=True):
            found[Thing("lot", pk)] = None
    if LabelKind.KIT in ids:
        for pk in kits(by=by).filter(pk__in=ids[LabelKind.KIT]).values_list("id", flat=True):
            found[Thing("kit", pk)] = None
    return found


def lots_kept_by(by: Caller, lot_ids: Iterable[uuid.UUID], *roles: str) -> set[uuid.UUID]:
    """Those of the lots that moved at a site where the caller has one of the roles. One query."""
    moved = narrow(Movement.objects.filter(lot_id__in=list(lot_ids)), by, *roles)
    return set(moved.values_list("lot_id", flat=True).distinct())


def active_labels(things: Iterable[Thing]) -> dict[Thing, uuid.UUID]:
    """Ids of the active labels of things. One query."""
    ids: dict[str, list[uuid.UUID]] = {}
    for one in things:
        ids.setdefault(one.kind, []).append(one.id)
    if not ids:
        return {}
    of_these = Q()
    for kind, wanted in ids.items():
        of_these |= Q(**{f"{kind}_id__in": wanted})
    rows = Label.objects.filter(of_these, state="active").values_list(
        "kind", Coalesce("kit_id", "lot_id", "pump_id", "bin_id"), "id"
    )
    return {Thing(kind, thing): pk for kind, thing, pk in rows}


def label_by_code(by: Caller, code: str) -> dict[str, Any] | None:
    """A label with what it stands on, if the caller may know of it, and the code that is active by now. Two queries."""
    row = labels(by=by).filter(code=code).values("id", "code", "kind", "state", "reason", "thing").first()
    if row is None:
        return None
    found = dict(row)
    found["active_code"] = found["code"]
    if found["state"] != "active":
        active = Label.objects.filter(**{f"{found['kind']}_id": found["thing"]}, state="active")
        found["active_code"] = active.values_list("code", flat=True).first()
    return found


def printed_texts(by: Caller, label_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, dict[str, Any]]:
    """What stands on each label beside its symbol: code, kind, heading, strong line and further lines. Two queries."""
    rows = plain_rows(
        Label.objects.filter(pk__in=list(label_ids)).values(
            "id", "code", "kind", "kit__item__number", "kit__item__revision", "kit__item__name", "kit__scope__name",
            "lot__id", "lot__number", "lot__expires_on", "lot__item__number", "lot__item__revision",
            "lot__item__name", "pump__tag", "pump__serial_number", "pump__pump_model__series",
            "pump__pump_model__designation", "pump__site__name", "bin__code", "bin__name", "bin__site__name",
        )
    )  # fmt: skip
    places = _places(by, [row["lot__id"] for row in rows if row["kind"] == LabelKind.LOT])
    return {row["id"]: _text(row, places) for row in rows}


def _text(row: dict[str, Any], places: dict[uuid.UUID, list[str]]) -> dict[str, Any]:
    lines: list[str] = []
    strong = ""
    if row["kind"] == LabelKind.KIT:
        heading = f"{row['kit__item__number']} {row['kit__item__revision']}".strip()
        lines = [row["kit__item__name"], row["kit__scope__name"]]
    elif row["kind"] == LabelKind.LOT:
        heading = f"{row['lot__item__number']} {row['lot__item__revision']}".strip()
        expires = row["lot__expires_on"]
        strong = f"Use by {expires.isoformat()}" if expires else "No expiry"
        lines = [f"Lot {row['lot__number']}", *places.get(row["lot__id"], [])[:2], row["lot__item__name"]]
    elif row["kind"] == LabelKind.PUMP:
        heading = row["pump__tag"]
        model = f"{row['pump__pump_model__series']} {row['pump__pump_model__designation']}"
        lines = [row["pump__site__name"], model, f"Serial {row['pump__serial_number']}"]
    else:
        heading = row["bin__code"]
        lines = [row["bin__site__name"], row["bin__name"]]
    return {
        "code": row["code"],
        "kind": row["kind"],
        "heading": heading,
        "strong": strong,
        "lines": [line for line in lines if line],
    }


def _places(by: Caller, lot_ids: list[uuid.UUID]) -> dict[uuid.UUID, list[str]]:
    """Where lots lie at the caller's sites, in words."""
    found: dict[uuid.UUID, list[str]] = {}
    if not lot_ids:
        return found
    lying = narrow(Balance.objects.filter(lot_id__in=lot_ids, on_hand__gt=0), by)
    for lot, site, place in (
        lying.order_by("site__code", "bin__code").values_list("lot_id", "site__code", "bin__code").distinct()
    ):
        found.setdefault(lot, []).append(f"{site}, bin {place}")
    return found
