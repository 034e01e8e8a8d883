"""Learning every night how long suppliers take."""

import datetime
import uuid
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from kits.calculations.lead_times import LeadTime, learn_lead_times, words_of_lead_time
from kits.models import LearnedLeadTime
from kits.queries.lead_times import agreed_lead_times, days_of_receipts
from services.api.many_rows import insert_many
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller
from services.work.recording import record_run

TASK = "kits.tasks.run_lead_time_learning"
LOCK_SPACE = 7304
# Receipts of the last three years tell how long a supplier takes (common practice, no source).
LOOKED_BACK = datetime.timedelta(days=3 * 365)
OWN = ("id", "as_of", "computed_at")
CENT, WEIGHT = Decimal("0.01"), Decimal("0.0001")


@transaction.atomic(savepoint=False)
def ask_nightly_learning(*, now: datetime.datetime | None = None) -> uuid.UUID | None:
    """Ask for one run a day in UTC; the run, or None where it is asked for already."""
    moment = now or timezone.now()
    return record_run(TASK, by=None, slot=f"lead times {moment.astimezone(datetime.UTC).date()}")


@transaction.atomic(savepoint=False)
def learn_all(*, by: Caller | None, as_of: datetime.date | None = None) -> dict[str, int]:
    """Learn the lead times of every supplier of which something came; how many suppliers were looked at and how many
    have other figures now. The same receipts and terms again change nothing. Two runs wait for each other."""
    day = as_of or timezone.now().date()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, 0)", [LOCK_SPACE])
    since = datetime.datetime.combine(day, datetime.time(), datetime.UTC) - LOOKED_BACK
    receipts = days_of_receipts(since)
    agreed = agreed_lead_times(receipts)
    kept: dict[uuid.UUID, dict[uuid.UUID | None, dict[str, Any]]] = {}
    for old in LearnedLeadTime.objects.all():
        kept.setdefault(old.supplier_id, {})[old.item_id] = _figures_of(old)
    changed = []
    fresh: list[LearnedLeadTime] = []
    for supplier, by_item in receipts.items():
        learned = learn_lead_times(by_item, agreed.get(supplier, {}))
        rows = [_row(supplier, item, one, day) for item, one in learned.items()]
        if {one.item_id: _figures_of(one) for one in rows} != kept.get(supplier):
            changed.append(supplier)
            fresh += rows
    forgotten = sorted(set(kept) - set(receipts))
    LearnedLeadTime.objects.filter(supplier_id__in=[*changed, *forgotten]).delete()
    insert_many(fresh)
    record_changes(_told([*changed, *forgotten], fresh, day), by=by)
    return {"suppliers": len(receipts), "changed": len(changed) + len(forgotten), "items": len(fresh)}


def _row(supplier: uuid.UUID, item: Any, one: LeadTime, day: datetime.date) -> LearnedLeadTime:
    return LearnedLeadTime(
        supplier_id=supplier,
        item_id=item,
        mean_days=_places(one.mean_days),
        sd_days=_places(one.sd_days),
        received=one.received,
        received_of_supplier=one.received_of_supplier,
        observed_mean_days=None if one.observed_mean_days is None else _places(one.observed_mean_days),
        agreed_days=None if one.agreed_days is None else _places(one.agreed_days),
        agreed_sd_days=None if one.agreed_sd_days is None else _places(one.agreed_sd_days),
        weight_of_item=_places(one.weight_of_item, WEIGHT),
        weight_of_supplier=_places(one.weight_of_supplier, WEIGHT),
        weight_of_agreed=_places(one.weight_of_agreed, WEIGHT),
        source=one.source,
        words=words_of_lead_time(one),
        as_of=day,
    )


def _figures_of(one: LearnedLeadTime) -> dict[str, Any]:
    names = (field.attname for field in LearnedLeadTime._meta.concrete_fields if field.attname not in OWN)
    return {name: getattr(one, name) for name in names}


def _told(suppliers: Iterable[uuid.UUID], rows: list[LearnedLeadTime], day: datetime.date) -> list[Recorded]:
    counted: dict[uuid.UUID, int] = {}
    for one in rows:
        if one.item_id is not None:
            counted[one.supplier_id] = counted.get(one.supplier_id, 0) + 1
    return [
        Recorded(
            "lead-times.learned",
            "lead-times",
            one,
            1,
            None,
            {"supplier": one, "items": counted.get(one, 0), "as_of": day},
        )
        for one in suppliers
    ]


def _places(value: float, places: Decimal = CENT) -> Decimal:
    return Decimal(value).quantize(places)
