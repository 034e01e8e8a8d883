"""A person gives the lots that one job's claim holds to another job. Never done by the service itself."""

import uuid

from kits.models import Reservation
from kits.operations.reservations import balances_for, choose, let_go, reclaim, reserve, tell_claim
from kits.refusals import NotTakenOver
from services.api.refusals import NotThere
from services.api.versions import version_changed
from services.identity.callers import Caller

State = Reservation.State


def take_over(
    *, by: Caller, from_id: uuid.UUID, for_id: uuid.UUID, expected_version: int, reason: str
) -> tuple[Reservation, Reservation]:
    """Move lots from a hard claim to a soft one of another job, in the caller's transaction; (giver, taker).

    The giver falls back to soft, unless lots that the taker cannot use serve it still. The caller has passed the gate
    and holds both jobs' locks. Raises `NotTakenOver`, `InsufficientStock` where even so the taker is not served,
    `VersionChanged` of the giver, `NotThere`.
    """
    claims = {
        one.pk: one
        for one in Reservation.objects.select_for_update(no_key=True).filter(pk__in=[from_id, for_id]).order_by("id")
    }
    giver, taker = claims.get(from_id), claims.get(for_id)
    if giver is None or taker is None:
        raise NotThere("The reservation is not here.", remedy="GET /reservations lists the claims.")
    if giver.version != expected_version:
        raise version_changed("The reservation", giver.version)
    _refuse_unfit(giver, taker)
    if not choose(balances_for(taker).values(), taker.quantity, taker.need_date).short:
        raise NotTakenOver(
            "Free lots would serve that job.", remedy="Reserve its kit: nobody needs to give anything up."
        )
    let_go(giver)
    Reservation.objects.filter(pk=giver.pk).update(state=State.SOFT)
    taker = reserve(by=by, reservation_id=taker.pk)
    reclaim(by=by, reservation_id=giver.pk)
    giver.refresh_from_db()
    tell_claim("reservation.taken-over", giver, by, reason=reason, taken_by_job=taker.job_number)
    tell_claim("reservation.given", taker, by, reason=reason, taken_from_job=giver.job_number)
    return giver, taker


def _refuse_unfit(giver: Reservation, taker: Reservation) -> None:
    problem = None
    if giver.state != State.HARD:
        problem = f"The reservation of job {giver.job_number} is {giver.state} and holds no lots."
    elif taker.state != State.SOFT:
        problem = f"The reservation of job {taker.job_number} is {taker.state}, not soft."
    elif (giver.site_id, giver.item_id) != (taker.site_id, taker.item_id):
        problem = "The two jobs claim different items, or at different sites."
    if problem:
        raise NotTakenOver(
            problem, remedy="Name a soft claim of another job on the same item at the same site.", pointer="#/for"
        )
