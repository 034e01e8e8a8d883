"""What stands on a job sheet beside its steps: findings, photos, time, parts beyond the kit, records that came late."""

import uuid
from typing import Any

from assets.queries.people import names_of
from jobs.calculations.failure_codes import BEARING_DAMAGE, FAILURE_MECHANISMS, FAILURE_MODES, REPLACEMENT_REASONS
from jobs.models import Attachment, ExtraPart, JobReturn, JobStep, Measurement, Nonconformity, OfflineRecord
from jobs.queries.extra_parts import extra_part_answer, extra_parts
from jobs.queries.findings import standing_findings
from jobs.queries.offline_records import UNSETTLED
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller


def worked_on(job_id: uuid.UUID, who: uuid.UUID) -> bool:
    """Whether a person did a step of a job or measured on it. At most two queries."""
    if JobStep.objects.filter(job_id=job_id, done_by_id=who).exists():
        return True
    return Measurement.objects.filter(job_id=job_id, by_id=who).exists()


def findings_in_words(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Findings that stand, their codes with what they mean. One query."""
    found = standing_findings(job_id)
    for one in found:
        tables = (
            (one["mode"], FAILURE_MODES),
            (one["mechanism"], FAILURE_MECHANISMS),
            (one["bearing_damage"], BEARING_DAMAGE),
        )
        one["codes"] = [(code, table[code].words if code in table else "") for code, table in tables if code]
        one["replaced_because"] = REPLACEMENT_REASONS.get(one["replacement_reason"], "")
    return found


def settled_of(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """What was not as it must be, and what became of it. One query."""
    return plain_rows(
        Nonconformity.objects.filter(job_id=job_id, state="closed")
        .order_by("id")
        .values("description", "disposition", "decision_reason", "extent", "decided_by__name")
    )


def attached_to(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Photos and documents of a job in order. One query."""
    return plain_rows(
        Attachment.objects.filter(job_id=job_id)
        .order_by("id")
        .values("id", "name", "caption", "step_number", "file__media_type", "file__size", "by__name", "occurred_at")
    )


def extra_part_on(by: Caller, job_id: uuid.UUID, extra_part_id: uuid.UUID, *, item: bool = False) -> uuid.UUID:
    """The id of an extra part of this job, or with ``item`` of the part it is. Raises `NotThere`."""
    found = extra_parts(by=by).filter(pk=extra_part_id, job_id=job_id).first()
    if found is None:
        raise NotThere("The job has no such extra part.", remedy="Load the page again.")
    return found.part_id if item else found.pk


def extra_parts_of(by: Caller, job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Parts beyond the kit, and for those asked for how their claim stands and when they can be there. One query, and a
    few for each that is asked for."""
    rows = plain_rows(
        ExtraPart.objects.filter(job_id=job_id)
        .order_by("id")
        .values(
            "id", "part_id", "part__number", "part__name", "quantity", "role", "reason", "state", "taken_from",
            "withdrawn_reason", "asked_by__name",
        )
    )  # fmt: skip
    return [one | (extra_part_answer(by, one["id"]) if one["state"] == "asked" else {}) for one in rows]


def returned_of(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """What came back from a job. One query."""
    return plain_rows(
        JobReturn.objects.filter(job_id=job_id)
        .order_by("id")
        .values("item__number", "quantity", "condition", "reason", "by__name")
    )


SAID = {"done_by": "done by", "done_at": "done at", "job_state": "the job is", "first": "the record that came first"}


def unsettled_records(job_id: uuid.UUID) -> list[dict[str, Any]]:
    """Records that came late and wait or conflict, each with what stands against it as pairs of words. Two queries, a
    third where another record stands against one."""
    rows = plain_rows(
        OfflineRecord.objects.filter(job_id=job_id, state__in=UNSETTLED)
        .order_by("occurred_at", "id")
        .values("id", "kind", "occurred_at", "received_at", "device", "content", "state", "code", "sentence",
                "against", "version", "by__name")
    )  # fmt: skip
    people = names_of({one["against"]["done_by"] for one in rows if one["against"].get("done_by")})
    first = {
        str(one["id"]): one
        for one in OfflineRecord.objects.filter(
            pk__in=[one["against"]["first"] for one in rows if one["against"].get("first")]
        ).values("id", "kind", "content", "occurred_at", "by__name")
    }
    for one in rows:
        one["holds"] = _pairs(one["content"])
        against = dict(one["against"])
        earlier = first.get(against.pop("first", ""))
        if against.get("done_by"):
            against["done_by"] = people.get(against["done_by"], "somebody")
        if against.get("done_at"):
            against["done_at"] = f"{against['done_at'][:16].replace('T', ' ')} UTC"
        one["stands"] = _pairs(against)
        if earlier is not None:
            by_whom = [("kind", earlier["kind"].replace("-", " ")), ("by", earlier["by__name"])]
            one["stands"] += [*by_whom, *_pairs(earlier["content"])]
    return rows


def _pairs(content: dict[str, Any]) -> list[tuple[str, str]]:
    """What a record says, in words; ids of instruments tell nobody anything."""
    return [
        (SAID.get(name, name.replace("_", " ")), _text(value))
        for name, value in content.items()
        if name not in {"instrument", "second_instrument", "measurement"} and value not in (None, "", [], {})
    ]


def _text(value: Any) -> str:
    if isinstance(value, dict):
        return "; ".join(f"{name}: {_text(one)}" for name, one in value.items())
    if isinstance(value, list):
        return ", ".join(map(_text, value))
    return str(value).replace("-", " ") if isinstance(value, str) and value[:1].isalpha() else str(value)
