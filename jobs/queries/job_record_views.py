"""A job's record with its link, and what verifying them says."""

import uuid
from typing import Any

from jobs.calculations.record_chain import Fault
from jobs.calculations.signed_content import content_hash as hash_of
from jobs.models import RecordLink, SignOff
from jobs.queries.job_records import record_contents
from jobs.queries.jobs import job_for, sign_offs
from jobs.queries.record_chain import parts_of, verify_one
from jobs.refusals import HashNotRead
from services.api.refusals import NotThere
from services.identity.callers import Caller


def record_of(*, by: Caller, job_id: uuid.UUID) -> dict[str, Any]:
    """The record that was signed, or that would be; hash, link, verification. Some 25 queries. Raises `NotThere`."""
    job = job_for(by, job_id)
    signed = SignOff.objects.filter(job=job, kind=SignOff.Kind.COMPLETION).first()
    content = signed.content if signed else record_contents([job.pk])[job.pk]
    return {
        "job": job.pk,
        "number": job.number,
        "state": job.state,
        "signed": signed is not None,
        "content": content,
        "content_hash": signed.content_hash if signed else hash_of(content),
        **_linked(job.pk, signed),
    }


def record_by_hash(*, by: Caller, content_hash: str) -> dict[str, Any]:
    """The signed record of a hash at a granted site. Some 20 queries. Raises `NotThere`."""
    signed = (
        sign_offs(by=by)
        .filter(kind=SignOff.Kind.COMPLETION, content_hash=content_hash)
        .select_related("job__pump", "by")
        .first()
    )
    if signed is None:
        raise NotThere(
            "No record with this hash was signed at your sites.",
            remedy="Compare the digits. If they are right, the paper does not show a record of this service as signed, "
            "or it is of a site where you have no role.",
        )
    return {
        "job": signed.job_id,
        "number": signed.job.number,
        "pump": signed.job.pump_id,
        "pump_tag": signed.job.pump.tag,
        "serial_number": signed.job.pump.serial_number,
        "signed_by": signed.by.name,
        "signed_at": signed.at,
        "content_hash": signed.content_hash,
        **_linked(signed.job_id, signed),
    }


def whole_hash(digest: str) -> str:
    """``sha256:`` and 64 small hex digits. Raises `HashNotRead`."""
    plain = digest.strip().lower().removeprefix("sha256:")
    if len(plain) != 64 or not set(plain) <= set("0123456789abcdef"):
        raise HashNotRead("That is no hash of a record.", remedy="Scan the code again, or type its 64 digits.")
    return f"sha256:{plain}"


def _linked(job_id: uuid.UUID, signed: SignOff | None) -> dict[str, Any]:
    row = RecordLink.objects.filter(job_id=job_id).first()
    if signed is None:
        words = "Not signed off yet: this is the record as it stands."
        return {"link": None, "verification": {"holds": None, "words": words, "faults": []}}
    if row is None:
        missing = Fault("link-missing", "the chain", "No link of the chain seals this record.")
        return {"link": None, "verification": _verdict([missing])}
    link = {
        "number": row.number,
        "at": row.at,
        "previous_mac": row.previous_mac,
        "key_id": row.key_id,
        "mac": row.mac,
    }
    return {"link": link, "verification": _verdict(verify_one(row))}


def _verdict(faults: list[Fault]) -> dict[str, Any]:
    if not faults:
        holds, words = True, "It holds: the record is as it was signed, and its link carries the right seal."
    elif {one.code for one in faults} == {"key-missing"}:
        holds, words = (
            None,
            "The record is as its hash says; the key of its seal is not at hand, so that is not proved.",
        )
    else:
        holds, words = False, "It does not hold: the record or its link is not as it was signed."
    return {"holds": holds, "words": words, "faults": parts_of(faults)}
