"""From the kit's side: the installed pumps that it fits, and what a kit that is only described would fit."""

import datetime
import uuid
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import Count, Exists, F, FilteredRelation, OuterRef, Q, QuerySet

from assets.access import narrow
from assets.models import BuildClass, Pump
from assets.queries.build_classes import build_class_ids
from assets.queries.pump_models import role_codes
from kits.calculations.fit import OfferedKit, OfferedLine, described, materials_brought, offered_rows
from kits.calculations.fit_arrays import VERDICTS, Scopes
from kits.calculations.fit_catalogue import KitArrays, judge_catalogue
from kits.models import FitMark, FitResult
from kits.queries.fit import PumpSeen, conditions_of, judge, shape_reason
from kits.queries.fit_candidates import models_asking_for
from kits.queries.fit_catalogue import LoadedClasses, Places, load_classes
from kits.queries.materials import suitability_tables
from kits.queries.supersessions import chains_of
from services.api.rows import plain_rows
from services.identity.callers import Caller

FITTING = ("fits", "fits-with-notes")
MODELS_SHOWN = 20


def pumps_of_kit(*, by: Caller, kit_id: uuid.UUID) -> QuerySet[Any]:
    """Installed pumps at granted sites that the kit serves in anything, each with its verdict as ``fit`` and whether
    some other kit of the same scope fits it too."""
    other = FitResult.objects.filter(
        build_class_id=OuterRef("build_class_id"),
        kit__state="released",
        kit__scope__kits=kit_id,
        verdict__in=FITTING,
    ).exclude(kit_id=kit_id)
    installed: QuerySet[Any] = narrow(Pump.objects.exclude(state="withdrawn"), by)
    return installed.annotate(
        fit=FilteredRelation("build_class__fits", condition=Q(build_class__fits__kit_id=kit_id)),
        another_fits=Exists(other),
    ).filter(fit__verdict__isnull=False)


def dependence_on_kit(*, by: Caller, kit_id: uuid.UUID) -> dict[str, Any]:
    """Installed pumps by site, criticality and verdict, and how many of them no other kit of the scope fits. Two
    queries."""
    rows = plain_rows(
        pumps_of_kit(by=by, kit_id=kit_id)
        .order_by("site__code", "criticality", "fit__verdict")
        .values("site_id", "site__code", "site__name", "criticality", verdict=F("fit__verdict"))
        .annotate(pumps=Count("id"), only_this=Count("id", filter=Q(another_fits=False, fit__verdict__in=FITTING)))
    )
    return {
        "kit": kit_id,
        "pending": FitMark.objects.filter(Q(kit_id=kit_id) | Q(build_class__isnull=False)).exists(),
        "sites": _by_site(rows),
    }


def _by_site(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    sites: dict[uuid.UUID, dict[str, Any]] = {}
    for row in rows:
        site = sites.setdefault(
            row["site_id"],
            {
                "site": row["site_id"], "site_code": row["site__code"], "site_name": row["site__name"], "pumps": 0,
                "only_this": 0, "by_verdict": Counter(), "by_criticality": Counter(),
            },
        )  # fmt: skip
        site["pumps"] += row["pumps"]
        site["only_this"] += row.get("only_this", 0)
        site["by_verdict"][row["verdict"]] += row["pumps"]
        site["by_criticality"][row["criticality"]] += row["pumps"]
    return [
        {**site, "by_verdict": dict(site["by_verdict"]), "by_criticality": dict(site["by_criticality"])}
        for site in sites.values()
    ]


@dataclass(frozen=True)
class _Found:
    """(verdict, matched, asked) of one kit by build class."""

    verdict_of: dict[uuid.UUID, tuple[str, int, int]]
    classes: LoadedClasses


def fits_of_described_kit(
    *, by: Caller, scope_roles: frozenset[str], lines: Sequence[OfferedLine], on: datetime.date
) -> dict[str, Any]:
    """What a kit of these lines would fit if it were released: installed pumps at granted sites by site, and the
    models it serves with reasons for one build class of each. Writes nothing; a fixed number of queries."""
    kit = OfferedKit(scope_roles, tuple(lines))
    found = _judge_everywhere(kit, on)
    installed = plain_rows(
        narrow(Pump.objects.exclude(state="withdrawn").filter(build_class_id__in=list(found.verdict_of)), by)
        .order_by("site__code", "criticality", "build_class_id")
        .values("site_id", "site__code", "site__name", "criticality", "build_class_id")
        .annotate(pumps=Count("id"))
    )
    for row in installed:
        row["verdict"] = found.verdict_of[row["build_class_id"]][0]
    return {"on": on, "sites": _by_site(installed), **_models(kit, found, installed, on)}


def _judge_everywhere(kit: OfferedKit, on: datetime.date) -> _Found:
    roles = Places(sorted(role_codes() | {one.role for one in kit.lines}))
    arrays = KitArrays(
        lines=offered_rows([(0, one) for one in kit.lines], roles.of),
        offers=[described(one) for one in kit.lines],
        scopes=Scopes(
            np.zeros(1, dtype=np.int64), np.array([[role in kit.scope_roles for role in roles.of]], dtype=bool)
        ),
        brought=[materials_brought(kit.lines)],
    )
    models = models_asking_for(arrays.offers)
    classes = load_classes(build_class_ids(models), roles)
    supersessions = chains_of(one.part_number for one in kit.lines).links
    verdicts: dict[uuid.UUID, tuple[str, int, int]] = {}
    for _, judged in judge_catalogue(
        arrays, classes.arrays, supersessions=supersessions, tables=suitability_tables(), on=on
    ):
        for place, verdict, matched, asked in zip(
            judged.build_class.tolist(), judged.verdict.tolist(), judged.matched.tolist(), judged.asked.tolist(),
            strict=True,
        ):  # fmt: skip
            verdicts[classes.ids[place]] = VERDICTS[verdict], matched, asked
    return _Found(verdicts, classes)


def _models(kit: OfferedKit, found: _Found, installed: Collection[dict[str, Any]], on: datetime.date) -> dict[str, Any]:
    pumps: Counter[uuid.UUID] = Counter()
    for row in installed:
        pumps[row["build_class_id"]] += row["pumps"]
    best: dict[uuid.UUID, tuple[Any, ...]] = {}
    of_model = dict(zip(found.classes.ids, found.classes.models, strict=True))
    total: Counter[uuid.UUID] = Counter()
    for one, (verdict, _, _) in found.verdict_of.items():
        total[of_model[one]] += pumps[one]
        key = (VERDICTS.index(verdict), -pumps[one], str(one))
        if of_model[one] not in best or key < best[of_model[one]][0]:
            best[of_model[one]] = (key, one)
    shown = sorted(best, key=lambda model: (best[model][0][0], -total[model], str(model)))[:MODELS_SHOWN]
    classes = {
        one.pk: one
        for one in BuildClass.objects.select_related("pump_model", "fluid_family").filter(
            pk__in=[best[model][1] for model in shown]
        )
    }
    ordered = [(model, classes[best[model][1]]) for model in shown]
    seen = [PumpSeen(model, one.sample_serial, one.variant, conditions_of(one), None, one.pk) for model, one in ordered]
    rows = [
        {
            "pump_model": model, "code": one.pump_model.code, "designation": one.pump_model.designation,
            "pumps": total[model], "verdict": fit.verdict, "matched": fit.matched, "asked": fit.asked,
            "reasons": [shape_reason(reason) for reason in fit.reasons],
        }
        for (model, one), (fit,) in zip(ordered, judge(seen, [kit], on), strict=True)
    ]  # fmt: skip
    return {"models_found": len(best), "models": rows}
