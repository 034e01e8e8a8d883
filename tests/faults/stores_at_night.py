"""Sites with something to order and files to load, each test with sites of its own."""

import csv
import datetime
import io
import itertools
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.models import Site
from kits.models import Item, Movement, Proposal, Supplier, SupplierTerms
from kits.operations import reservations
from kits.operations.lots import LotWanted, ensure_lots
from kits.operations.replenishment import request_run
from kits.queries.movements import ledger_differences
from services.bulk_loads.operations import take_file
from services.changes.models import Change
from services.identity.callers import Caller, as_caller
from services.work.models import BackgroundRun
from tests.shelves import make_part, some_job
from tests.world import make_principal, make_site

LINES = 10_000
LOTS = 100
_numbers = itertools.count(1)


def some_keeper() -> Caller:
    return as_caller(make_principal(f"keeper-{next(_numbers)}", ("admin", None)))


def site_short_of_something(by: Caller) -> Site:
    """A job needs six of a bearing, and none is there."""
    number = next(_numbers)
    site = make_site(f"site-{number}")
    part = make_part(f"BRG-{number}", category="rolling-bearing")
    supplier, _ = Supplier.objects.get_or_create(code="harrow", defaults={"name": "Harrow Sealing"})
    SupplierTerms.objects.create(
        supplier=supplier, item=part, lead_time_days=10, lead_time_sd_days=2, minimum=1, multiple=1, price=Decimal(20),
        currency="EUR", order_cost=Decimal(35),
    )  # fmt: skip
    job_id, job = some_job()
    with transaction.atomic():
        reservations.plan(
            by=by, job_id=job_id, job_number=job, site_id=site.pk, item_id=part.pk, quantity=Decimal(6),
            need_date=timezone.now().date() + datetime.timedelta(days=5),
        )  # fmt: skip
    return site


def ask_for_replenishment(by: Caller, site: Site) -> Any:
    """The run's id; nobody is kicked, the sweep must find it."""
    run = request_run(by=by, site_id=site.pk)
    BackgroundRun.objects.filter(pk=run).update(due_at=timezone.now() - datetime.timedelta(minutes=1))
    return run


def ask_for_a_long_receipt(by: Caller) -> tuple[Any, Site, Item]:
    """A file of ten thousand receipts, one piece each, of a hundred lots."""
    number = next(_numbers)
    site, part = make_site(f"site-{number}"), make_part(f"BRG-{number}", category="rolling-bearing")
    today = timezone.now().date()
    with transaction.atomic():
        ensure_lots([LotWanted(part.pk, f"L-{lot}", today) for lot in range(LOTS)], by=by)
    out = io.StringIO()
    written = csv.writer(out)
    written.writerow(["external_id", "kind", "site", "item", "lot", "quantity", "occurred_at"])
    at = timezone.now().isoformat()
    for line in range(LINES):
        written.writerow([f"{site.code}-{line}", "receipt", site.code, part.number, f"L-{line % LOTS}", 1, at])
    with transaction.atomic():
        load = take_file(by=by, kind="movements", content=out.getvalue().encode(), media_type="text/csv")
    BackgroundRun.objects.filter(pk=load.run_id).update(due_at=timezone.now() - datetime.timedelta(minutes=1))
    return load.run_id, site, part


def is_done(run: Any) -> bool:
    return BackgroundRun.objects.get(pk=run).state == "done"


def proposed_once(site: Site) -> bool:
    """One proposal of what is short, told once; nothing else."""
    made = list(Proposal.objects.filter(site=site).values_list("quantity", flat=True))
    told = Change.objects.filter(noun="proposal", site_id=site.pk).values_list("kind", flat=True)
    return (made, list(told)) == ([6], ["proposal.opened"]) and ledger_differences() == []


def received_once(site: Site, part: Item) -> bool:
    """Every line of the file once, told once, and the shelf holds them."""
    moved = Movement.objects.filter(site=site, item=part)
    told = Change.objects.filter(kind="stock.moved", site_id=site.pk).count()
    return (moved.count(), moved.values("external_id").distinct().count(), told) == (
        LINES, LINES, LINES,
    ) and ledger_differences() == []  # fmt: skip
