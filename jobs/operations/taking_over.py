"""A person takes a reserved kit from one job for another."""

import uuid

from django.db import transaction

from jobs.models import Job
from jobs.operations.readiness import refresh
from jobs.refusals import WrongJobState
from kits.operations.taking_over import take_over
from kits.queries.reservations import claim_for
from services.api.refusals import InvalidValue, NotAllowed, NotThere
from services.identity.callers import Caller
from services.identity.people import is_person

DECIDERS = ("supervisor", "planner", "stores", "admin")
# A kit is not taken out of running work.
GIVING, TAKING = ("planned", "ready", "on-hold"), ("planned", "ready")


@transaction.atomic(savepoint=False)
def take_over_claim(
    *, by: Caller, reservation_id: uuid.UUID, for_reservation_id: uuid.UUID, expected_version: int, reason: str
) -> None:
    """Give the lots of a hard claim to another job's soft claim; both jobs' readiness follows in the transaction.

    Only a person may, never a service. Raises `NotTakenOver`, `WrongJobState` where the giving job has started,
    `InsufficientStock`, `VersionChanged`, `NotAllowed`, `NotThere`.
    """
    giver = claim_for(by, reservation_id, *DECIDERS)
    if not is_person(by.id):
        raise NotAllowed("Only a person takes a kit from one job for another.", remedy="Have somebody decide it.")
    try:
        taker = claim_for(by, for_reservation_id)
    except NotThere as gone:
        raise InvalidValue("There is no such reservation.", remedy=gone.remedy, pointer="#/for") from gone
    if giver.job_id == taker.job_id:
        raise InvalidValue("It is the same job.", remedy="Name another job's reservation.", pointer="#/for")
    jobs = {
        one.pk: one
        for one in Job.objects.select_for_update(no_key=True, of=("self",))
        .select_related("revision")
        .filter(pk__in=[giver.job_id, taker.job_id])
        .order_by("id")
    }
    for claim, states in ((giver, GIVING), (taker, TAKING)):
        job = jobs.get(claim.job_id)
        if job is None or job.state not in states:
            state = job.state if job else "not here"
            raise WrongJobState(
                f"Job {claim.job_number} is {state.replace('-', ' ')}; it must be "
                f"{' or '.join(one.replace('-', ' ') for one in states)}.",
                remedy="Read the job again and see what is possible.",
                state=state,
            )
    take_over(by=by, from_id=giver.pk, for_id=taker.pk, expected_version=expected_version, reason=reason)
    for job in jobs.values():
        refresh(job, by=by)
