"""Taking photos and documents in. What a file is, is told by its content; the same content is kept once."""

import datetime
import hashlib
import re
import uuid
from pathlib import PurePosixPath

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from jobs.calculations.attached_files import ENDINGS, FileUnusable, TooManyPoints, look_at
from jobs.models import Attachment, Job, StoredFile
from jobs.operations.job_changes import record_changed
from jobs.operations.steps import FITTERS
from jobs.operations.under_way import happened_at, job_under_way, step_reached
from jobs.queries.findings import finding_for
from jobs.queries.jobs import job_for, measurements, nonconformities
from jobs.refusals import AttachmentTooLarge, FileNotTaken
from services.api.identifiers import new_id
from services.api.refusals import InvalidValue, NotThere
from services.changes.recording import record_change
from services.identity.callers import Caller

_UNSPEAKABLE = re.compile(r"[\x00-\x1f\x7f\"\\/:*?<>|\u202a-\u202e\u2066-\u2069]+")
LONGEST_NAME = 120


@transaction.atomic(savepoint=False)
def attach_file(
    *,
    by: Caller,
    job_id: uuid.UUID,
    content: bytes,
    name: str,
    caption: str = "",
    step: int | None = None,
    finding_id: uuid.UUID | None = None,
    measurement_id: uuid.UUID | None = None,
    nonconformity_id: uuid.UUID | None = None,
    occurred_at: datetime.datetime | None = None,
    attachment_id: uuid.UUID | None = None,
) -> Attachment:
    """Attach a photo or a document to a job, or to one step, finding, measurement or nonconformity of it.

    1. The job is under way. 2. The size is within `ATTACHMENT_MOST_BYTES`. 3. The content is a JPEG, PNG or WebP
    picture that can be read whole, or a PDF; pictures lose what they tell about place and device. 4. It is stored by
    its hash, once. The same id sent again returns the first record.

    Raises `AttachmentTooLarge`, `FileNotTaken`, `InvalidValue`, `NotThere`, `MakeSafeFirst`, `WrongJobState`.
    """
    job_for(by, job_id, *FITTERS)
    when = happened_at(occurred_at)
    # Before the job is locked: others wait for it, and a store far away is slow.
    stored = _store(content)
    job = job_under_way(by, job_id, "take an attachment", *FITTERS)
    sent_before = (
        None
        if attachment_id is None
        else Attachment.objects.filter(pk=attachment_id, job=job, by_id=by.id, file=stored).first()
    )
    if sent_before is not None:
        return sent_before
    _one_thing(by, job, step, finding_id, measurement_id, nonconformity_id)
    made = Attachment.objects.create(
        id=attachment_id or new_id(),
        job=job,
        file=stored,
        name=speakable_name(name, stored.media_type),
        caption=caption,
        step_number=step,
        finding_id=finding_id,
        measurement_id=measurement_id,
        nonconformity_id=nonconformity_id,
        by_id=by.id,
        occurred_at=when,
    )
    record_change(
        "attachment.added",
        noun="attachment",
        noun_id=made.pk,
        site_id=job.site_id,
        by=by,
        body={
            "job": job.pk,
            "job_number": job.number,
            "name": made.name,
            "media_type": stored.media_type,
            "sha256": stored.sha256,
            "step": step,
            "finding": finding_id,
            "measurement": measurement_id,
            "nonconformity": nonconformity_id,
        },
    )
    record_changed(job, by)
    return made


def speakable_name(name: str, media_type: str) -> str:
    """A file's name without folders, control characters and turned writing, ending as its content asks.

    >>> speakable_name("../../etc/ring.exe", "image/jpeg")
    'ring.jpg'
    """
    stem = _UNSPEAKABLE.sub(" ", PurePosixPath(name.replace("\\", "/")).stem).strip(" .") or "attachment"
    ending = ENDINGS[media_type]
    return f"{stem[: LONGEST_NAME - len(ending)]}{ending}"


def _one_thing(
    by: Caller,
    job: Job,
    step: int | None,
    finding_id: uuid.UUID | None,
    measurement_id: uuid.UUID | None,
    nonconformity_id: uuid.UUID | None,
) -> None:
    if sum(one is not None for one in (step, finding_id, measurement_id, nonconformity_id)) > 1:
        raise InvalidValue(
            "A file is attached to one thing.",
            remedy="Name the step, the finding, the measurement or the nonconformity; attach it again for another.",
            pointer="#/step",
        )
    if step is not None:
        step_reached(job, step)
    if finding_id is not None:
        finding_for(by, finding_id, job_id=job.pk)
    if measurement_id is not None and not measurements(by=by).filter(pk=measurement_id, job_id=job.pk).exists():
        raise NotThere("The job has no such measurement.", remedy="GET /jobs/{id}/measurements lists them.")
    if nonconformity_id is not None and not nonconformities(by=by).filter(pk=nonconformity_id, job=job).exists():
        raise NotThere("The job has no such nonconformity.", remedy="GET /nonconformities?job= lists them.")


def _store(content: bytes) -> StoredFile:
    most = settings.ATTACHMENT_MOST_BYTES
    if len(content) > most:
        raise AttachmentTooLarge(
            f"The file has more than {most} bytes.", remedy="Send a smaller picture, or the document in parts."
        )
    received = hashlib.sha256(content).hexdigest()
    known = StoredFile.objects.filter(received_sha256=received).first()
    if known is not None:
        return known
    try:
        seen = look_at(content)
    except FileUnusable as error:
        remedy = "Send a JPEG, PNG or WebP picture, or a PDF."
        if isinstance(error, TooManyPoints):
            remedy = "Take it with fewer points, or send it scaled down."
        raise FileNotTaken(str(error), remedy=remedy, pointer="#/file") from error
    digest = hashlib.sha256(seen.content).hexdigest()
    place = f"{digest[:2]}/{digest}{ENDINGS[seen.media_type]}"
    # Named by its content: what a request that is undone leaves behind is found again by the next that brings it.
    if not default_storage.exists(place):
        written = default_storage.save(place, ContentFile(seen.content))
        if written != place:
            default_storage.delete(written)
    StoredFile.objects.bulk_create(
        [
            StoredFile(
                sha256=digest,
                received_sha256=received,
                place=place,
                media_type=seen.media_type,
                size=len(seen.content),
                cleaned=seen.cleaned,
            )
        ],
        ignore_conflicts=True,
    )
    return StoredFile.objects.get(received_sha256=received)
