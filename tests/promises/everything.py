"""One of everything at the north site, and for each write of the API a body that reaches its gate."""

import datetime
import uuid
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.models import Bin, Grant, WearPosition
from jobs.models import Label, Nonconformity, OfflineRecord, ProcedureRevision
from jobs.operations.attachments import attach_file
from jobs.operations.extra_parts import ask_for_part
from jobs.operations.findings import record_finding
from jobs.operations.jobs import plan_job, reserve_kit
from jobs.operations.labels import make_labels
from jobs.operations.starting import start_job
from jobs.queries.labels import Thing
from kits.models import (
    ApprovalLimit,
    Coverage,
    Kit,
    Lot,
    Movement,
    Order,
    OrderLine,
    Proposal,
    ReplenishmentLevel,
    Reservation,
    Supersession,
    Supplier,
    SupplierTerms,
    Transfer,
    TransferLine,
    TransitTime,
)
from kits.operations.counts import make_count
from services.api.identifiers import new_id
from services.bulk_loads.mappings import register_mapping
from services.bulk_loads.operations import take_file
from services.identity.models import AccessToken
from services.identity.tokens import issue_token
from tests.closed_jobs import closed_job
from tests.jobs.calculations.test_attached_files import picture
from tests.measured import measure
from tests.overhauls import Workshop, open_workshop
from tests.promises.tables_of_the_trade import rows_of_tables
from tests.shelves import make_part, put_on_shelf
from tests.world import Cast, gather_cast, make_site

TODAY = timezone.now().date()
LATER = (TODAY + datetime.timedelta(days=30)).isoformat()


@dataclass
class Everything:
    cast: Cast
    workshop: Workshop
    ids: dict[str, Any]

    def path(self, route: str) -> str:
        """A route with the ids of this world in it."""
        for name, value in self.ids.items():
            for kind in ("uuid", "int", "str"):
                route = route.replace(f"<{kind}:{name}>", str(value))
        return "/" + route


def make_everything() -> Everything:
    cast = gather_cast()
    workshop = open_workshop(cast)
    stores = cast.by("stores")
    supplier = Supplier.objects.create(code="harrow", name="Harrow Sealing")
    terms = SupplierTerms.objects.create(
        supplier=supplier, item=workshop.kit, lead_time_days=42, price=Decimal(180), currency="EUR"
    )
    order = Order.objects.create(number="O-1", site=cast.north, supplier=supplier)
    OrderLine.objects.create(
        order=order, line=1, item=workshop.kit, quantity=2, expected_on=TODAY, price=Decimal(180), currency="EUR"
    )
    ReplenishmentLevel.objects.create(
        site=cast.north, item=workshop.kit, reorder_point=2, order_quantity=2, pattern="lumpy", method="tsb",
        mean_a_month=0.5, fill_rate=Decimal("0.95"), reached=0.96, lead_time_days=42, as_of=TODAY,
    )  # fmt: skip
    proposal = Proposal.objects.create(
        site=cast.north,
        item=workshop.kit,
        supplier=supplier,
        quantity=2,
        price=Decimal(180),
        currency="EUR",
        expected_on=TODAY,
        working={},
        words="Why.",
        as_of=TODAY,
    )
    newer = make_part("OR-226-N", category="o-ring")
    supersession = Supersession.objects.create(
        old_id=workshop.o_ring.pk, new_id=newer.pk, from_date=TODAY + datetime.timedelta(days=9)
    )
    declared = Coverage.objects.create(
        kit_id=workshop.kit.pk, pump_model_id=workshop.pump.pump_model_id, serial_from="NB2019*"
    )
    mill = make_site("mill")
    transit_time = TransitTime.objects.create(from_site=mill, to_site=cast.north, days=2, cost=40, currency="EUR")
    transfer = Transfer.objects.create(
        number="T-1", from_site=mill, to_site=cast.north, days=2, cost=40, currency="EUR", expected_on=TODAY,
        approved_by=cast.people["chief"],
    )  # fmt: skip
    TransferLine.objects.create(transfer=transfer, line=1, item=workshop.kit, quantity=1)
    put_on_shelf(stores, cast.north, workshop.bearing, 2, lot="B-1", cured=None)
    with transaction.atomic():
        job = plan_job(by=cast.by("planner"), pump_id=workshop.pump.pk, kit_id=workshop.kit.pk, planned_start=TODAY)
        reserve_kit(by=cast.by("planner"), job_id=job.pk)
        job.refresh_from_db()
        start_job(by=cast.by("fitter"), job_id=job.pk, expected_version=job.version)
        extra = ask_for_part(
            by=cast.by("fitter"), job_id=job.pk, part_id=workshop.bearing.pk, quantity=Decimal(1), role="bearing-de",
            reason="rough",
        )  # fmt: skip
        finding = record_finding(
            by=cast.by("fitter"), job_id=job.pk, role="bearing-de", observed="rough", mode="NOI", mechanism="2.4"
        )
        attachment = attach_file(by=cast.by("fitter"), job_id=job.pk, content=picture("JPEG"), name="ring.jpg")
        load = take_file(by=cast.by("chief"), kind="makers", content=b"code,name\na,b\n", media_type="text/csv")
        mapping = register_mapping(by=cast.by("chief"), kind="makers", name="Register", columns={"Short": "code"})
        token, _ = issue_token(
            principal_id=cast.people["chief"].pk,
            name="mine",
            scopes=["read"],
            expires_at=timezone.now() + datetime.timedelta(days=1),
        )
        (label_id,), _ = make_labels(by=stores, things=[Thing("pump", workshop.pump.pk)])
        sheet = make_count(by=stores, site_id=cast.north.pk, item_ids=[workshop.bearing.pk])
    digest = closed_job(cast, workshop).record_link.content_hash
    nonconformity = Nonconformity.objects.create(job=job, description="Scored sleeve.", raised_by=cast.people["fitter"])
    offline = OfflineRecord.objects.create(
        client_id=new_id(), kind="step-confirmation", job=job, by=cast.people["fitter"], occurred_at=timezone.now(),
        content={"step": 10}, digest="sha256:", state="conflict", code="step-not-open",
    )  # fmt: skip
    job.refresh_from_db()
    measured = measure(cast, workshop, job, "0.02", step=20, code="shaft-run-out", upper="0.05")
    movement = Movement.objects.filter(item=workshop.kit).first()
    assert movement is not None
    ids = {
        "site": cast.north.pk,
        "bin": Bin.objects.get(site=cast.north).pk,
        "grant": Grant.objects.get(principal=cast.people["reader"]).pk,
        "maker": workshop.pump.pump_model.maker_id,
        "fluid": workshop.pump.fluid_id,
        "model": workshop.pump.pump_model_id,
        "position": WearPosition.objects.order_by("role_id").values_list("id", flat=True)[0],
        "pump": workshop.pump.pk,
        "part": workshop.o_ring.pk,
        "supersession": supersession.pk,
        "supplier": supplier.pk,
        "terms": terms.pk,
        "item": workshop.kit.pk,
        "kit": workshop.kit.pk,
        "movement": movement.pk,
        "lot": Lot.objects.get(number="L-1").pk,
        "order": order.pk,
        "proposal": proposal.pk,
        "approval_limit": ApprovalLimit.objects.create(role="stores", currency="EUR", limit=100_000).pk,
        "mill": mill.pk,
        "transit_time": transit_time.pk,
        "transfer": transfer.pk,
        "reservation": Reservation.objects.get(job_id=job.pk, item=workshop.kit).pk,
        "revision": ProcedureRevision.objects.get().pk,
        "instrument": workshop.instruments["dial"].pk,
        "job": job.pk,
        "number": 10,
        "nonconformity": nonconformity.pk,
        "record": offline.pk,
        "extra_part": extra.pk,
        "finding": finding.pk,
        "attachment": attachment.pk,
        "second_fitter": cast.people["second-fitter"].pk,
        "digest": digest,
        "label": label_id,
        "code": Label.objects.get().code,
        "run": load.run_id,
        "load": load.pk,
        "mapping": mapping.pk,
        "token": AccessToken.objects.get(pk=token.pk).pk,
        "principal": cast.people["reader"].pk,
        "newer": newer.pk,
        "coverage": declared.pk,
        "count": sheet.pk,
        "calculation": "fit",
        "characteristic": measured.job_characteristic.code,
    }
    ids |= rows_of_tables()
    assert Kit.objects.get().state == "released"
    return Everything(cast, workshop, ids)


def fresh_key() -> str:
    return str(uuid.uuid4())
