"""Reading parts beyond the kit, and what came back from a job."""

import uuid
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet, Sum
from django.utils import timezone

from assets.access import narrow, require_role
from jobs.models import ExtraPart, JobReturn
from kits.queries.reservations import claim_state
from kits.queries.stock_projection import picture_of, promises
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.identity.callers import Caller


def extra_parts(*, by: Caller) -> QuerySet[ExtraPart]:
    """Extra parts of jobs at granted sites."""
    return narrow(ExtraPart.objects.all(), by, path="job__site_id")


def extra_part_for(by: Caller, extra_part_id: Any, *roles: str) -> ExtraPart:
    """The extra part behind an outside id, with its job. Raises `NotThere`, `NotAllowed`."""
    found = extra_parts(by=by).select_related("job__pump", "part").filter(pk=as_uuid(extra_part_id)).first()
    if found is None:
        raise NotThere("The extra part is not here.", remedy="Check the id, or ask for a role at its site.")
    require_role(by, found.job.site_id, *roles, what="The extra part")
    return found


def extra_parts_asked(job_id: uuid.UUID) -> list[tuple[uuid.UUID, str, Decimal]]:
    """Parts that a job asked for and has not taken: id, number and quantity. One query."""
    rows = ExtraPart.objects.filter(job_id=job_id, state="asked").order_by("id")
    return list(rows.values_list("part_id", "part__number", "quantity"))


def job_returns(*, by: Caller) -> QuerySet[JobReturn]:
    """What came back from jobs at granted sites."""
    return narrow(JobReturn.objects.all(), by, path="job__site_id")


def came_back(job_id: uuid.UUID) -> dict[tuple[uuid.UUID, uuid.UUID | None], Decimal]:
    """What came back from a job by (item, extra part it was taken as). One query."""
    rows = JobReturn.objects.filter(job_id=job_id).values_list("item_id", "extra_part_id").order_by()
    return {(item, extra): total for item, extra, total in rows.annotate(total=Sum("quantity"))}


def extra_part_answer(by: Caller, extra_part_id: Any) -> dict[str, Any]:
    """How the claim of an extra part stands and, where it is not held yet, the first day it can be there. Callers have
    passed the gate."""
    extra = ExtraPart.objects.select_related("job").get(pk=extra_part_id)
    claim = claim_state(extra.reservation_id)
    if extra.state != "asked" or claim != "soft":
        return {"claim": claim, "promised_on": None, "promise": ""}
    today = timezone.now().date()
    picture = picture_of(by, site_id=extra.job.site_id, item_id=extra.part_id, on=today)
    found = promises(picture, quantity=extra.quantity, earliest=today)
    return {"claim": claim, "promised_on": found["on"], "promise": found["words"]}
