"""Reading photos and documents: only through the job a file is attached to, at a granted site."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import Count, QuerySet

from assets.access import narrow
from jobs.models import Attachment, JobStep
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.identity.callers import Caller


def attachments(*, by: Caller) -> QuerySet[Attachment]:
    """Attachments of jobs at granted sites."""
    return narrow(Attachment.objects.all(), by, path="job__site_id")


def attachment_for(by: Caller, attachment_id: Any) -> Attachment:
    """One attachment with its stored file. Raises `NotThere`."""
    found = attachments(by=by).select_related("file").filter(pk=as_uuid(attachment_id)).first()
    if found is None:
        raise NotThere("The attachment is not here.", remedy="Check the id, or ask for a role at its site.")
    return found


def photos_of_step(job_id: uuid.UUID, number: int) -> int:
    """How many different pictures are attached to a step. One query."""
    pictures = Attachment.objects.filter(job_id=job_id, step_number=number, file__media_type__startswith="image/")
    return pictures.values("file_id").distinct().count()


def photos_lacking(step: JobStep) -> int:
    """How many photos a step of a procedure asks for and does not have yet. At most one query."""
    wanted = photos_wanted(step)
    return max(0, wanted - photos_of_step(step.job_id, step.number)) if wanted else 0


def photos_wanted(step: JobStep) -> int:
    """How many photos the procedure insists on at a step; others are welcome."""
    return sum(bool(one.get("needed", True)) for one in step.step.photos)


def photos_by_step(job_ids: Iterable[uuid.UUID]) -> dict[tuple[uuid.UUID, int], int]:
    """How many different pictures are attached, by job and step. One query."""
    rows = Attachment.objects.filter(job_id__in=list(job_ids), file__media_type__startswith="image/")
    counted = rows.exclude(step_number=None).values_list("job_id", "step_number")
    return {(job, number): count for job, number, count in counted.annotate(Count("file_id", distinct=True))}
