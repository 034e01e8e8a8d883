"""Reading claims on stock."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import QuerySet, Sum

from assets.access import narrow, require_role
from kits.models import Allocation, Movement, Reservation
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller


def reservations(*, by: Caller) -> QuerySet[Reservation]:
    """Claims at granted sites."""
    return narrow(Reservation.objects.all(), by)


def claim_for(by: Caller, reservation_id: Any, *roles: str) -> Reservation:
    """One claim, where the caller has one of the roles at its site. Raises `NotThere`, `NotAllowed`."""
    found = reservations(by=by).filter(pk=as_uuid(reservation_id)).first()
    if found is None:
        raise NotThere("The reservation is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, found.site_id, *roles, what="The reservation")
    return found


def of_job(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """A job's claims in the order made, each with the lots it holds. Two queries."""
    return of_jobs([job_id]).get(job_id, [])


def of_jobs(job_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, list[dict[str, Any]]]:
    """Claims by job, each with the lots it holds. Two queries, however many jobs."""
    ids = list(job_ids)
    claims = plain_rows(
        Reservation.objects.filter(job_id__in=ids)
        .order_by("created_at", "id")
        .values("id", "job_id", "item", "item__number", "quantity", "issued", "need_date", "state")
    )
    held: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for one in allocation_rows(Allocation.objects.filter(reservation__job_id__in=ids)):
        held.setdefault(one.pop("reservation"), []).append(one)
    found: dict[uuid.UUID, list[dict[str, Any]]] = {}
    for claim in claims:
        claim["item_number"] = claim.pop("item__number")
        claim["allocations"] = held.get(claim["id"], [])
        found.setdefault(claim.pop("job_id"), []).append(claim)
    return found


def allocation_rows(allocations: QuerySet[Allocation]) -> list[dict[str, Any]]:
    """Lots held, the earliest to expire first."""
    rows = allocations.order_by("balance__lot__expires_on", "balance__lot__number", "id").values(
        "reservation", "quantity", "issued", "balance__lot__number", "balance__lot__expires_on", "balance__bin__code"
    )
    return [
        {
            "reservation": one["reservation"],
            "lot": one["balance__lot__number"],
            "expires_on": one["balance__lot__expires_on"],
            "quantity": one["quantity"],
            "issued": one["issued"],
            "bin": one["balance__bin__code"],
        }
        for one in rows
    ]


def issued_lots(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Lots issued for a job and still out, net of what came back unopened."""
    rows = (
        Movement.objects.filter(job_id=job_id, kind__in=["issue", "return"])
        .values("lot_id", "lot__number", "item_id")
        .annotate(total=Sum("quantity"))
        .filter(total__lt=0)
        .order_by("lot__number")
    )
    return [
        {"lot_id": one["lot_id"], "item_id": one["item_id"], "lot": one["lot__number"], "quantity": -one["total"]}
        for one in rows
    ]


def claim_state(reservation_id: uuid.UUID) -> str:
    """How a claim stands; for whoever has passed the gate already. One query."""
    return Reservation.objects.values_list("state", flat=True).get(pk=reservation_id)
