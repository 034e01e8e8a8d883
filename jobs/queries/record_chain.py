"""Reading the chain of records, and proving that it and the records hold."""

import datetime
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any

from django.conf import settings
from django.db import connection
from django.db.models import Exists, OuterRef, QuerySet

from assets.access import narrow
from jobs.calculations.record_chain import (
    Fault,
    Link,
    differences,
    head_faults,
    moved_from,
    order_faults,
    seal_faults,
)
from jobs.calculations.signed_content import ContentUnsignable, content_hash
from jobs.models import Job, RecordLink, SignOff
from jobs.queries.job_records import compared, record_contents, without_later
from jobs.queries.record_rows import text
from services.identity.callers import Caller

AT_A_TIME = 200


def links(*, by: Caller) -> QuerySet[RecordLink]:
    """Links of the records of jobs at granted sites."""
    return narrow(RecordLink.objects.all(), by, path="job__site_id")


def last_link() -> Link | None:
    """The end of the chain. One query."""
    row = RecordLink.objects.order_by("-number").first()
    return None if row is None else as_link(row)


def link_at(number: int) -> Link | None:
    """The link of a number. One query."""
    row = RecordLink.objects.filter(number=number).first()
    return None if row is None else as_link(row)


def as_link(row: RecordLink) -> Link:
    return Link(
        number=row.number,
        job=str(row.job_id),
        content_hash=row.content_hash,
        at=text(row.at) or "",
        previous_mac=row.previous_mac,
        key_id=row.key_id,
        mac=row.mac,
    )


@dataclass(frozen=True)
class Found:
    """Something that does not hold: the job it concerns (empty where the chain itself), and the fault."""

    job: str
    fault: Fault

    def words(self) -> str:
        where = f"job {self.job}, {self.fault.place}" if self.job else self.fault.place
        return f"{where}: {self.fault.sentence}"


@dataclass
class Verified:
    """How much was looked at: links, signatures, jobs taken over from earlier records, and the end of the chain."""

    links: int = 0
    signatures: int = 0
    taken_over: int = 0
    last: Link | None = None
    keys: set[str] = field(default_factory=set)


def verify_all(seen: Verified, *, head: Mapping[str, Any] | None = None) -> Iterator[Found]:
    """Everything that does not hold, in the order of the chain, then what is signed and stands outside it.

    Reads the chain as a stream, `AT_A_TIME` records at once, each batch with a fixed number of queries. Records and
    links that are written meanwhile do no harm where the caller holds one snapshot (REPEATABLE READ).
    """
    before: Link | None = None
    rows = RecordLink.objects.order_by("number").iterator(chunk_size=AT_A_TIME)
    while some := list(islice(rows, AT_A_TIME)):
        numbers = dict(Job.objects.filter(pk__in=[one.job_id for one in some]).values_list("id", "number"))
        records = _record_faults([one.job_id for one in some])
        for row in some:
            link = as_link(row)
            job = numbers.get(row.job_id, "")
            for fault in [*order_faults(link, before), *_seal(link), *_belongs(row, link, records)]:
                yield Found(job or str(row.job_id), fault)
            seen.links += 1
            seen.keys.add(link.key_id)
            before = link
        seen.signatures += sum(one.signatures for one in records.values())
    seen.last = before
    if head is not None:
        found = None if int(head["number"]) == 0 else link_at(int(head["number"]))
        for fault in head_faults(head, found, before.number if before else 0):
            yield Found("", fault)
    yield from _outside(seen)


def _seal(link: Link) -> list[Fault]:
    faults = seal_faults(link, settings.RECORD_KEYS)
    if any(one.code == "seal-broken" for one in faults):
        follows = RecordLink.objects.filter(mac=link.previous_mac).values_list("number", flat=True).first()
        was = moved_from(link, follows, settings.RECORD_KEYS)
        if was is not None:
            return [
                Fault(
                    "order-changed",
                    f"link {link.number}",
                    f"Link {link.number} was made as link {was}: the order of the chain was changed.",
                )
            ]
    return faults


@dataclass
class JobFaults:
    """What does not hold of one job's signatures, and the hash that its completion is signed over."""

    faults: list[Fault] = field(default_factory=list)
    content_hash: str = ""
    sign_off: uuid.UUID | None = None
    signatures: int = 0


def _belongs(row: RecordLink, link: Link, records: Mapping[uuid.UUID, JobFaults]) -> list[Fault]:
    record = records.get(row.job_id)
    if record is None or record.sign_off is None:
        return [Fault("record-missing", f"link {link.number}", "The record that the link seals was deleted.")]
    faults = list(record.faults)
    if record.content_hash != link.content_hash or record.sign_off != row.sign_off_id:
        faults.append(
            Fault("record-altered", f"link {link.number}", "The link seals another record than the one that is there.")
        )
    return faults


def _record_faults(job_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, JobFaults]:
    """What does not hold of the records of some jobs. A fixed number of queries."""
    now = record_contents(job_ids)
    states = dict(Job.objects.filter(pk__in=job_ids).values_list("id", "state"))
    found = {pk: JobFaults() for pk in now}
    signed = SignOff.objects.filter(job_id__in=job_ids).order_by("job_id", "at", "id")
    for one in signed:
        of_job = found.setdefault(one.job_id, JobFaults())
        of_job.signatures += 1
        of_job.faults += signature_faults(one)
        if one.kind == SignOff.Kind.COMPLETION:
            of_job.content_hash, of_job.sign_off = one.content_hash, one.pk
            of_job.faults += _completion_faults(one, now.get(one.job_id), states.get(one.job_id))
    return found


def signature_faults(one: SignOff) -> list[Fault]:
    """Whether a signature stands over its own content."""
    place = {"hold-point": f"the release of step {one.step_number}", "concession": "a concession"}.get(
        one.kind, "its sign-off"
    )
    try:
        right = content_hash(one.content) == one.content_hash
    except ContentUnsignable:
        right = False
    if right:
        return []
    return [Fault("signature-altered", place, f"What {place} was signed over is not what its hash says: altered.")]


def _completion_faults(one: SignOff, now: dict[str, Any] | None, state: str | None) -> list[Fault]:
    if now is None:
        return [Fault("job-missing", "the job", "The job that was signed off, or what it belongs to, is gone.")]
    found = []
    if state != "closed":
        found.append(Fault("record-altered", "state", f"The job was signed off; now it is {state}."))
    signed = one.content
    if not isinstance(signed, dict) or "form" not in signed:
        return [*found, Fault("record-unreadable", "its sign-off", "What was signed has no form that is known.")]
    try:
        was = signed.get("signature", {})
        signature = {"by": text(one.by_id), "role": one.role, "at": text(one.at), "remark": one.remark}
        places = [
            *differences(compared(signed), compared(without_later(now, signed))),
            *differences(was, signature | {"seen": was.get("seen")}, "/signature"),
        ]
    except (AttributeError, KeyError, TypeError):
        return [*found, Fault("record-unreadable", "its sign-off", "What was signed has no form that is known.")]
    return [*found, *(Fault("record-altered", place, sentence) for place, sentence in places)]


def _outside(seen: Verified) -> Iterator[Found]:
    """What is closed or signed off and has no link, and signatures on jobs that are not closed."""
    unlinked = (
        Job.objects.filter(state="closed", record_link=None)
        .annotate(signed=Exists(SignOff.objects.filter(job=OuterRef("pk"))))
        .order_by("id")
        .values_list("number", "state_reasons", "signed")
    )
    for number, reasons, signed in unlinked.iterator(chunk_size=AT_A_TIME):
        if not signed and any(isinstance(one, dict) and one.get("code") == "taken-over" for one in _list(reasons)):
            seen.taken_over += 1
        else:
            sentence = "The job is closed and no link of the chain seals its record."
            yield Found(number, Fault("link-missing", "the chain", sentence))
    rows = SignOff.objects.filter(job__record_link=None).select_related("job").order_by("id")
    for one in rows.iterator(chunk_size=AT_A_TIME):
        seen.signatures += 1
        yield from (Found(one.job.number, fault) for fault in signature_faults(one))


def _list(value: Any) -> list[Any]:
    """What should be a list, whatever somebody put there."""
    return value if isinstance(value, list) else []


def verify_one(row: RecordLink) -> list[Fault]:
    """What does not hold of one link and its record: its seal, the link before it, and the record. Some 15 queries."""
    link = as_link(row)
    before = link_at(link.number - 1) if link.number > 1 else None
    return [*order_faults(link, before), *_seal(link), *_belongs(row, link, _record_faults([row.job_id]))]


def one_snapshot() -> None:
    """Read everything as of one moment, in the transaction that was just opened."""
    with connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")


def chain_head(now: datetime.datetime) -> dict[str, Any]:
    """What is kept elsewhere against a chain cut at its end: number and seal of the last link, and the time."""
    last = last_link()
    return {"number": last.number if last else 0, "mac": last.mac if last else "", "at": text(now)}


def parts_of(found: Iterable[Fault]) -> list[dict[str, str]]:
    """Faults as the API says them."""
    return [{"code": one.code, "place": one.place, "sentence": one.sentence} for one in found]
