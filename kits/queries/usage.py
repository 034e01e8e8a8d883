"""What the catalogue is still good for: where a part is used, what no installed pump needs, whom nothing serves, and
what makers say that the computed fit contradicts. Facts of the catalogue are told to everybody; pumps and stock only
of the caller's sites."""

import datetime
import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import Case, Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.expressions import RawSQL
from django.db.models.functions import Coalesce
from django.utils import timezone

from assets.access import narrow
from assets.calculations.build_class import variant_matches
from assets.calculations.part_numbers import normalise_number
from assets.calculations.serial_ranges import SerialRange
from assets.models import Pump, WearPosition, normalised
from assets.queries.pumps import pumps
from kits.calculations.coverage import Declared
from kits.models import Balance, Coverage, FitMark, FitResult, Item, KitLine
from kits.queries.parts import part_for
from kits.queries.supersessions import chains_of
from services.identity.callers import Caller

SERVED = ("fits", "fits-with-notes")
VERDICTS = ("fits", "fits-with-notes", "incomplete", "unsuitable")
ASKED_FOR = "SELECT parts_asked_for(%s)"


def fits_pending() -> bool:
    """Whether some fit is still to be computed anew. One query."""
    return FitMark.objects.exists()


def _installed() -> QuerySet[Pump]:
    return Pump.objects.exclude(state="withdrawn")


def _needed(kit: str) -> Exists:
    """Whether a kit has a stored fit for a build class that some installed pump belongs to."""
    fits = FitResult.objects.filter(kit_id=OuterRef(kit))
    return Exists(fits.filter(Exists(_installed().filter(build_class_id=OuterRef("build_class_id")))))


def stranded_parts() -> QuerySet[Item]:
    """Parts that no released kit with an installed pump holds, and that no position of an installed model asks for,
    neither by number nor over supersession."""
    today = timezone.now().date()
    lines = KitLine.objects.filter(part_id=OuterRef("pk"), kit__state="released").filter(_needed("kit_id"))
    asked = RawSQL(ASKED_FOR, [today])  # noqa: S611 - a constant text with bound values
    return Item.objects.filter(~Exists(lines), kind="part").exclude(pk__in=asked)


def stranded_kits() -> QuerySet[Item]:
    """Released kits that fit no installed pump; ``pending`` where their fit is still to be computed anew."""
    marks = FitMark.objects.filter(kit_id=OuterRef("pk"))
    return Item.objects.filter(~_needed("pk"), kit__state="released").annotate(pending=Exists(marks))


def stock_of(by: Caller, item_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Decimal]:
    """On hand of some items over the caller's sites, usable and quarantined. One query."""
    rows = narrow(Balance.objects.filter(item_id__in=list(item_ids)), by)
    return dict(rows.values("item_id").annotate(total=Sum("on_hand")).values_list("item_id", "total"))


def unserved_pumps(*, by: Caller, scope: str | None) -> QuerySet[Pump]:
    """Installed pumps for which no released kit fits, of one scope or of any, with the best verdict there is."""
    fits = FitResult.objects.filter(build_class_id=OuterRef("build_class_id"), kit__state="released")
    if scope is not None:
        fits = fits.filter(kit__scope__code=scope)
    rank = Case(*(When(verdict=word, then=place) for place, word in enumerate(VERDICTS)), default=len(VERDICTS))
    best = Subquery(fits.annotate(rank=rank).order_by("rank").values("verdict")[:1])
    marks = FitMark.objects.filter(Q(build_class_id=OuterRef("build_class_id")) | Q(kit__isnull=False))
    return (
        pumps(by=by)
        .exclude(state="withdrawn")
        .filter(~Exists(fits.filter(verdict__in=SERVED)))
        .annotate(best_verdict=Coalesce(best, Value("no-fit")), pending=Exists(marks))
    )


def doubtful_coverage(*, by: Caller, on: datetime.date) -> QuerySet[Coverage]:
    """Declarations of released kits that hold on a day, on models of which some installed pump of the caller's sites
    has no fit of that kit. `contradictions` tells which of them that pump contradicts."""
    served = FitResult.objects.filter(
        build_class_id=OuterRef("build_class_id"), kit_id=OuterRef(OuterRef("kit_id")), verdict__in=SERVED
    )
    without = pumps(by=by).exclude(state="withdrawn").filter(~Exists(served), pump_model_id=OuterRef("pump_model_id"))
    return Coverage.objects.filter(
        Exists(without),
        Q(valid_from=None) | Q(valid_from__lte=on),
        Q(valid_to=None) | Q(valid_to__gte=on),
        kit__state="released",
    )


def contradictions(by: Caller, said: Sequence[dict[str, Any]], on: datetime.date) -> dict[uuid.UUID, dict[str, int]]:
    """How many installed pumps of the caller's sites each declaration covers, and with which verdict the computed fit
    contradicts it, by the declaration's id. ``said``: rows with id, kit, pump_model, serials and variant. Two
    queries."""
    classes = _classes(by, {one["pump_model"] for one in said})
    fits = FitResult.objects.filter(
        kit_id__in={one["kit"] for one in said},
        build_class_id__in={one["build_class_id"] for those in classes.values() for one in those},
    )
    verdicts = {(kit, one): verdict for kit, one, verdict in fits.values_list("kit_id", "build_class_id", "verdict")}
    found = {}
    for row in said:
        word = Declared(row["kit"], SerialRange(row["serial_from"], row["serial_to"]), row["variant"])
        counts = dict.fromkeys(("pump_count", "no_fit", "incomplete", "unsuitable"), 0)
        for one in classes.get(row["pump_model"], []):
            if word.covers(one["sample"], one["built"], on):
                verdict = verdicts.get((row["kit"], one["build_class_id"]), "no_fit")
                counts["pump_count"] += one["count"]
                if verdict not in SERVED:
                    counts[verdict] += one["count"]
        found[row["id"]] = counts
    return found


def _classes(by: Caller, models: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """Build classes of installed pumps at the caller's sites, with how many at which site, by model."""
    rows = (
        pumps(by=by)
        .exclude(state="withdrawn")
        .filter(pump_model_id__in=list(models), build_class__isnull=False)
        .values("pump_model_id", "build_class_id", "site_id")
        .annotate(
            count=Count("id"),
            code=F("site__code"),
            sample=F("build_class__sample_serial"),
            built=F("build_class__variant"),
        )
        .order_by("code", "build_class_id")
    )
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for row in rows:
        found.setdefault(row["pump_model_id"], []).append(dict(row))
    return found


def lines_with_part(part_id: Any) -> QuerySet[KitLine]:
    """Lines of released kits that hold a part. Raises `NotThere`."""
    return KitLine.objects.filter(part_id=part_for(part_id).pk, kit__state="released")


def pumps_of_kits(by: Caller, kit_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """How many installed pumps at each of the caller's sites have a stored fit of each kit. One query."""
    rows = (
        pumps(by=by)
        .exclude(state="withdrawn")
        .filter(build_class__fits__kit_id__in=list(kit_ids))
        .values_list("build_class__fits__kit_id", "site_id", "site__code")
        .annotate(count=Count("id"))
        .order_by("site__code")
    )
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for kit, site, code, count in rows:
        found.setdefault(kit, []).append({"site": site, "site_code": code, "count": count})
    return found


def paths_to_part(part_id: Any, on: datetime.date) -> dict[str, tuple[str, ...]]:
    """Numbers as compared for which a part may stand on a day, itself among them, each with the chain of numbers that
    leads to it. Two queries. Raises `NotThere`."""
    number = part_for(part_id).item.number
    place, chains = normalise_number(number), chains_of([number])
    found: dict[str, tuple[str, ...]] = {place: (number,)}
    for asked in chains.parts:
        path = chains.links.serves(asked, place, on)
        if path is not None:
            found[asked] = tuple(chains.part(one)["number"] for one in path)
    return found


def positions_asking(numbers: Iterable[str]) -> QuerySet[WearPosition]:
    """Wear positions that ask for one of some numbers as compared."""
    return WearPosition.objects.exclude(part_number="").alias(compared=normalised("part_number")).filter(
        compared__in=list(numbers)
    )  # fmt: skip


def pumps_of_positions(by: Caller, said: Sequence[dict[str, Any]]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """How many installed pumps at each of the caller's sites each wear position applies to. ``said``: rows with id,
    pump_model, serials and variant. One query."""
    classes = _classes(by, {one["pump_model"] for one in said})
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for row in said:
        serials = SerialRange(row["serial_from"], row["serial_to"])
        sites: dict[uuid.UUID, dict[str, Any]] = {}
        for one in classes.get(row["pump_model"], []):
            if serials.contains(one["sample"]) and variant_matches(row["variant"] or {}, one["built"]):
                site = {"site": one["site_id"], "site_code": one["code"], "count": 0}
                sites.setdefault(one["site_id"], site)["count"] += one["count"]
        found[row["id"]] = list(sites.values())
    return found
