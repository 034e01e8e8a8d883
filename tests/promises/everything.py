"""One of everything at the north site, and for each write of the API a body that reaches its gate."""

import base64
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
from tests.overhauls import Workshop, open_workshop, procedure_document
from tests.promises.tables_of_the_trade import TABLE_BODIES, rows_of_tables
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


def bodies(world: Everything) -> dict[str, dict[str, Any]]:
    """A body for each write that needs one, by method and route."""
    ids = {name: str(value) for name, value in world.ids.items()}
    price = {"price": "180", "currency": "EUR"}
    return {
        "POST sites": {"code": "east", "name": "East", "time_zone": "Europe/Oslo"},
        "PATCH sites/<uuid:site>": {"name": "North again"},
        "POST bins": {"site": ids["site"], "code": "B-9"},
        "PATCH bins/<uuid:bin>": {"name": "First"},
        "POST grants": {"principal": ids["principal"], "role": "fitter", "site": ids["site"]},
        "POST principals": {"login": "ingrid", "name": "Ingrid Fell"},
        "PATCH principals/<uuid:principal>": {"name": "Reader"},
        **TABLE_BODIES,
        "POST makers": {"code": "lodd", "name": "Lodd Hydraulics"},
        "PATCH makers/<uuid:maker>": {"name": "Norrvik"},
        "POST fluids": {"code": "milk", "name": "Milk", "family": "vegetable-oil"},
        "PATCH fluids/<uuid:fluid>": {"name": "Water"},
        "POST pump-models": {
            "code": "M2",
            "maker": ids["maker"],
            "series": "NB",
            "designation": "80-50-200",
            "configuration": "in-line",
            "shaft_diameter_at_seal_mm": "43",
            "rated_speed_rpm": "2900",
            "rated_power_kw": "11",
        },
        "POST nameplates/match": {"text": "NB 65-40-200\nS/N NB2019-0117"},
        "PATCH pump-models/<uuid:model>": {"rated_power_kw": "16"},
        "POST pump-models/<uuid:model>/wear-positions": {"role": "cover-gasket", "quantity": "1", "part_number": "G-1"},
        "PATCH wear-positions/<uuid:position>": {"quantity": "2"},
        "POST pumps": {
            "tag": "P-900",
            "site": ids["site"],
            "pump_model": ids["model"],
            "serial_number": "NB2020-1",
            "fluid": ids["fluid"],
            "temperature_min_c": "5",
            "temperature_max_c": "20",
            "criticality": "vital",
        },
        "PATCH pumps/<uuid:pump>": {"state": "standby"},
        "POST pumps/<uuid:pump>/running-hours": {"hours": "10"},
        "POST parts": {"number": "N-1", "name": "Ring", "category": "o-ring", "specification": "226 EPDM 70"},
        "PATCH parts/<uuid:part>": {"name": "Ring"},
        "POST supersessions": {"old": ids["newer"], "new": str(world.workshop.bearing.pk), "from_date": LATER},
        "PATCH supersessions/<uuid:supersession>": {"both_ways": True},
        "POST supersessions/resolve": {"numbers": ["OR-226-E"], "parts": [ids["newer"]]},
        "POST calculations/<str:calculation>": {
            "nominal": {"value": "50", "unit": "mm"},
            "hole_class": "H7",
            "shaft_class": "k6",
        },
        "POST specifications/read": {"category": "o-ring", "specification": "226 EPDM 70"},
        "POST described-pump-fits": {
            "pump_model": ids["model"],
            "serial_number": "NB2020-1",
            "fluid_family": "water",
            "temperature_min_c": "5",
            "temperature_max_c": "20",
        },
        "POST described-kit-fits": {"kit": ids["kit"]},
        "POST suppliers": {"code": "ollvard", "name": "Ollvard"},
        "PATCH suppliers/<uuid:supplier>": {"name": "Harrow"},
        "POST supplier-terms": {"supplier": ids["supplier"], "item": ids["part"], "lead_time_days": "9", **price},
        "PATCH supplier-terms/<uuid:terms>": {"lead_time_days": "40", **price},
        "POST kits": {"number": "K-9", "revision": "A", "name": "Kit", "scope": "full-overhaul"},
        "PATCH kits/<uuid:kit>": {"name": "Kit"},
        "POST kits/<uuid:kit>/lines": {
            "lines": [{"line": 1, "role": "bearing-de", "part": ids["part"], "quantity": "1"}]
        },
        "POST coverage": {"kit": ids["kit"], "pump_model": ids["model"]},
        "PATCH coverage/<uuid:coverage>": {"valid_to": LATER},
        "POST stock-movements": {
            "kind": "scrap",
            "site": ids["site"],
            "item": ids["kit"],
            "lot": "L-1",
            "quantity": "1",
            "reason": "torn",
        },
        "POST stock-movements/<uuid:movement>/reverse": {"reason": "wrong lot"},
        "PATCH sites/<uuid:site>/count-settings": {"a_times_a_year": 6},
        "POST stock-discrepancies": {"site": ids["site"], "item": ids["kit"], "quantity": "1", "reason": "empty bin"},
        "POST counts": {"site": ids["site"]},
        "POST counts/<uuid:count>/entries": {"entries": [{"line": 1, "quantity": "2"}]},
        "POST counts/<uuid:count>/send-back": {"lines": [1], "reason": "look again"},
        "POST counts/<uuid:count>/cancel": {"reason": "rain"},
        "POST kit-builds": {"site": ids["site"], "kit": ids["kit"], "quantity": 1, "lot": "B-9", "reason": "a test"},
        "POST kit-breaks": {"site": ids["site"], "kit": ids["kit"], "lot": "L-1", "quantity": 1, "reason": "a test"},
        "POST lots/<uuid:lot>/extend": {"inspected": "all rings sound"},
        "POST orders": {
            "site": ids["site"],
            "supplier": ids["supplier"],
            "lines": [{"item": ids["part"], "quantity": "1", "expected_on": LATER, **price}],
        },
        "POST orders/<uuid:order>/chases": {"line": 1, "said": "next week"},
        "POST orders/<uuid:order>/receive": {"lines": [{"line": 1, "quantity": "1", "lot": "L-2"}]},
        "POST orders/<uuid:order>/close-short": {"reason": "no more"},
        "POST orders/<uuid:order>/cancel": {"reason": "twice"},
        "PATCH replenishment-proposals/<uuid:proposal>": {"quantity": "4"},
        "POST replenishment-proposals/<uuid:proposal>/reject": {"reason": "no need"},
        "POST replenishment-proposals/<uuid:proposal>/snooze": {"until": LATER},
        "POST replenishment-runs": {"site": ids["site"]},
        "POST approval-limits": {"role": "automatic", "currency": "EUR", "limit": "50"},
        "PATCH approval-limits/<uuid:approval_limit>": {"limit": "60"},
        "POST reservation-reviews": {"site": ids["site"]},
        "POST reservations/<uuid:reservation>/take-over": {"for": ids["reservation"], "reason": "more urgent"},
        "POST transit-times": {
            "from_site": ids["site"],
            "to_site": ids["mill"],
            "days": 2,
            "cost": "40",
            "currency": "EUR",
        },
        "PATCH transit-times/<uuid:transit_time>": {"days": 3},
        "POST network-targets": {
            "sites": [ids["site"]],
            "central_store": ids["site"],
            "items": [ids["kit"]],
            "budget": {"amount": "500", "currency": "EUR"},
        },
        "POST transfer-plans": {"sites": [ids["site"]], "waiting_cost": {"amount": "400", "currency": "EUR"}},
        "POST transfers": {
            "from_site": ids["mill"],
            "to_site": ids["site"],
            "lines": [{"item": ids["kit"], "quantity": "1"}],
            "override_reason": "a test",
        },
        "POST transfers/<uuid:transfer>/close-short": {"reason": "lost"},
        "POST transfers/<uuid:transfer>/cancel": {"reason": "not needed"},
        "POST procedure-revisions": {"document": procedure_document(revision=2)},
        "PATCH procedure-revisions/<uuid:revision>": {"document": {"title": "Overhaul"}},
        "POST procedure-revisions/<uuid:revision>/send-back": {"remarks": "which torque?"},
        "POST procedure-revisions/<uuid:revision>/withdraw": {"reason": "wrong torque"},
        "POST procedure-checks": {"document": procedure_document(revision=2)},
        "POST instruments": {
            "number": "DI-9",
            "type": "dial-indicator",
            "site": ids["site"],
            "range_from": "0",
            "range_to": "5",
            "unit": "mm",
            "resolution": "0.001",
            "expanded_uncertainty": "0.002",
            "calibrated_on": TODAY.isoformat(),
            "calibration_due": LATER,
        },
        "PATCH instruments/<uuid:instrument>": {"resolution": "0.002"},
        "POST jobs": {"pump": ids["pump"], "kit": ids["kit"], "planned_start": LATER},
        "PATCH jobs/<uuid:job>": {"planned_end": LATER},
        "POST jobs/<uuid:job>/hold": {"reason": "rain"},
        "POST jobs/<uuid:job>/cancel": {"reason": "replaced"},
        "POST jobs/<uuid:job>/reschedule": {"planned_start": LATER, "reason": "no crane"},
        "POST jobs/<uuid:job>/hand-over": {"to": ids["second_fitter"], "note": "shaft is out"},
        "POST jobs/<uuid:job>/split": {"steps": [50], "planned_start": LATER, "reason": "no O-ring"},
        "POST jobs/<uuid:job>/extra-parts": {
            "part": ids["part"],
            "quantity": "1",
            "role": "casing-o-ring",
            "reason": "cut",
        },
        "POST extra-parts/<uuid:extra_part>/withdraw": {"reason": "dressed"},
        "POST jobs/<uuid:job>/returns": {"item": ids["part"], "quantity": "1", "reason": "not needed"},
        "POST jobs/<uuid:job>/work": {"minutes": 5},
        "POST jobs/<uuid:job>/findings": {"role": "casing-o-ring", "observed": "flat", "mode": "ELP"},
        "POST jobs/<uuid:job>/attachments": {
            "name": "ring.png",
            "content": base64.b64encode(picture("PNG")).decode(),
        },
        "POST jobs/<uuid:job>/measurements": {
            "step": 20,
            "characteristic": "shaft-run-out",
            "readings": ["0", "0", "0", "0"],
            "unit": "mm",
            "instrument": ids["instrument"],
        },
        "POST judgements": {
            "described_characteristic": {"rule": "single", "unit": "mm", "upper": "0.05"},
            "readings": ["0.02"],
            "unit": "mm",
            "described_instrument": {
                "unit": "mm",
                "range_from": "0",
                "range_to": "10",
                "resolution": "0.001",
                "expanded_uncertainty": "0.003",
            },
        },
        "POST column-mappings": {"kind": "makers", "name": "Another", "columns": {"Short": "code"}},
        "PATCH column-mappings/<uuid:mapping>": {"columns": {"Shorter": "code"}},
        "POST labels": {"things": [{"kind": "pump", "id": ids["pump"]}]},
        "POST labels/<uuid:label>/replace": {"reason": "torn"},
        "POST labels/<uuid:label>/void": {"reason": "wrong pump"},
        "POST scanned-labels": {"code": ids["code"]},
        "POST label-sheets": {"labels": [ids["label"]], "format": "roll-62x29"},
        "POST offline-records": {
            "records": [
                {
                    "id": str(new_id()),
                    "kind": "step-confirmation",
                    "job": str(ids["job"]),
                    "occurred_at": timezone.now().isoformat(),
                    "step": 10,
                }
            ]
        },
        "POST offline-records/<uuid:record>/settle": {"decision": "set-aside", "reason": "done twice"},
        "POST nonconformities": {"job": ids["job"], "description": "Scored."},
        "POST nonconformities/<uuid:nonconformity>/decide": {"disposition": "rework", "reason": "dress it"},
        "POST access-tokens": {"name": "phone", "scopes": ["read"], "expires_at": f"{LATER}T00:00:00Z"},
        "POST principals/<uuid:principal>/access-tokens": {
            "name": "phone",
            "scopes": ["read"],
            "expires_at": f"{LATER}T00:00:00Z",
        },
    }


def fresh_key() -> str:
    return str(uuid.uuid4())
