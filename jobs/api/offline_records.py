"""Records that an app made without a connection, and what became of each."""

import uuid
from collections import Counter
from collections.abc import Mapping
from typing import Any

import django_filters
from django.db import DatabaseError
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.calculations.offline_records import KINDS, OfflineRecord, RecordProblem, read_record
from jobs.operations.offline_records import MOST_RECORDS, Outcome, chunks, settle_record, take_in
from jobs.queries.offline_records import offline_records
from services.api.filters import Filters
from services.api.many_rows import uncollected
from services.api.problems import refusal_of
from services.api.refusals import Busy, InvalidValue
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, write_durably
from services.identity.callers import caller_of

TAG = "Offline work"


class OfflineRecordRow(Rows):
    id = serializers.UUIDField()
    client_id = serializers.UUIDField(help_text="The id that the device gave it.")
    kind = serializers.CharField(help_text=f"{', '.join(KINDS)}.")
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    by = serializers.CharField(source="by.name")
    device = serializers.CharField()
    occurred_at = serializers.DateTimeField()
    received_at = serializers.DateTimeField()
    content = serializers.DictField(help_text="As it came.")
    state = serializers.CharField(help_text="applied, waiting, conflict or set-aside.")
    code = serializers.CharField(help_text="Why it waits or conflicts.")
    sentence = serializers.CharField()
    against = serializers.DictField(help_text="What stands against it, as it was when it came.")
    settled_by = serializers.CharField(source="settled_by.name", allow_null=True)
    settled_at = serializers.DateTimeField(allow_null=True)
    settled_because = serializers.CharField()
    version = serializers.IntegerField()


class OfflineRecordFilters(Filters):
    job = django_filters.UUIDFilter("job_id", help_text="The job's id.")
    site = django_filters.UUIDFilter("job__site_id", help_text="The site's id.")
    state = django_filters.CharFilter(help_text="applied, waiting, conflict or set-aside.")
    kind = django_filters.CharFilter(help_text="The kind of record.")

    class Meta:
        fields: list[str] = []


class OfflineBatchIn(Body):
    device = serializers.CharField(max_length=80, required=False, allow_blank=True, help_text="Which device sends.")
    records = serializers.ListField(
        min_length=1,
        help_text="Records as objects with `id`, `kind`, `job`, `occurred_at` and what their kind asks for: "
        + "; ".join(f"{kind}: {', '.join(fields) or 'nothing more'}" for kind, fields in KINDS.items())
        + f". At most {MOST_RECORDS}.",
    )


class OutcomeShape(serializers.Serializer[Any]):
    id = serializers.CharField(help_text="As it came.")
    outcome = serializers.CharField(help_text="applied, known, waiting, conflict, refused or unreadable.")
    code = serializers.CharField()
    sentence = serializers.CharField()
    verdict = serializers.CharField(help_text="Of a measurement that was judged: it counts, not the phone's.")


class OfflineBatchShape(serializers.Serializer[Any]):
    counts = serializers.DictField(child=serializers.IntegerField(), help_text="How many ended in which way.")
    results = OutcomeShape(many=True, help_text="In the order of the request.")


class SettleIn(Body):
    decision = serializers.ChoiceField(["apply", "set-aside"])
    reason = serializers.CharField(max_length=2000)


def _record(request: Request, one: uuid.UUID) -> dict[str, Any] | None:
    return OfflineRecordRow.select(offline_records(by=caller_of(request)).filter(pk=one)).first()


class OfflineRecordsView(ListView):
    rows = OfflineRecordRow
    filters = OfflineRecordFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return offline_records(by=caller_of(request))

    @describe(
        summary="Offline records and what became of them",
        tag=TAG,
        responses=page_of(OfflineRecordRow),
        filters=OfflineRecordFilters,
        operation_id="offline_records_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Hand in records made without a connection, in any order, once or more often",
        tag=TAG,
        request=OfflineBatchIn,
        responses=OfflineBatchShape,
        description=(
            "Each record's id is its retry key: the same record again changes nothing. Records are put into the order "
            "in which they happened and taken in by pieces of 500, each whole or not at all; send the whole batch "
            "again if the connection breaks. A record that needs another one first waits for it. One that stands "
            "against another is kept beside it until a supervisor settles it. An Idempotency-Key is not needed."
        ),
        request_example={
            "device": "phone of the north workshop",
            "records": [
                {
                    "id": "0199a0c4-0000-7000-8000-0000000000e1",
                    "kind": "measurement",
                    "job": "0199a0c4-0000-7000-8000-0000000000dd",
                    "occurred_at": "2027-01-31T09:30:00Z",
                    "step": 220,
                    "characteristic": "shaft-run-out",
                    "readings": ["0.00", "0.03", "0.02", "0.01"],
                    "unit": "mm",
                    "instrument": "0199a0c4-0000-7000-8000-0000000000cc",
                },
                {
                    "id": "0199a0c4-0000-7000-8000-0000000000e2",
                    "kind": "step-confirmation",
                    "job": "0199a0c4-0000-7000-8000-0000000000dd",
                    "occurred_at": "2027-01-31T09:31:00Z",
                    "step": 220,
                },
            ],
        },
    )
    def post(self, request: Request) -> Response:
        with uncollected():
            return Response(_handed_in(request))


def _handed_in(request: Request) -> dict[str, Any]:
    """The answer to a batch, once all of it is taken in, piece by piece."""
    body = read_body(request, OfflineBatchIn)
    raw = body["records"]
    if len(raw) > MOST_RECORDS:
        raise InvalidValue(
            f"{len(raw)} records came; {MOST_RECORDS} are the most at once.",
            remedy="Send them in several requests.",
            pointer="#/records",
        )
    read = dict(enumerate(map(read_record, raw)))
    good = {place: one for place, one in read.items() if isinstance(one, OfflineRecord)}
    results: dict[int, dict[str, str]] = {
        place: _unreadable(raw[place], one) for place, one in read.items() if isinstance(one, list)
    }
    for places in chunks(good):
        outcomes = _taken_in(request, body.get("device", ""), [good[place] for place in places])
        results |= {place: dict(vars(one)) for place, one in zip(places, outcomes, strict=True)}
    counts = Counter(row["outcome"] for row in results.values())
    return {"counts": dict(counts), "results": [results[place] for place in sorted(results)]}


def _taken_in(request: Request, device: str, records: list[OfflineRecord]) -> list[Outcome]:
    """One chunk in one transaction. What the database refuses is found by trying one by one; the rest is kept."""
    by = caller_of(request)
    try:
        return write_durably(request, lambda: take_in(by=by, device=device, records=records))
    except DatabaseError as error:
        refusal = refusal_of(error)
        if refusal is None or isinstance(refusal, Busy):
            raise
        if len(records) == 1:
            return [Outcome(records[0].id, "refused", refusal.code, refusal.detail)]
    return [outcome for one in records for outcome in _taken_in(request, device, [one])]


def _unreadable(raw: Any, problems: list[RecordProblem]) -> dict[str, str]:
    """Told in the same list, so that one bad record does not keep the others back."""
    known = raw.get("id") if isinstance(raw, Mapping) else None
    words = " ".join(f"{one.place or 'record'}: {one.sentence}" for one in problems)
    return {
        "id": str(known)[:36] if known is not None else "",
        "outcome": "unreadable",
        "code": "record-unreadable",
        "sentence": words,
        "verdict": "",
    }


class OfflineRecordView(APIView):
    @describe(summary="One offline record", tag=TAG, responses=OfflineRecordRow, operation_id="offline_records_read")
    def get(self, request: Request, record: uuid.UUID) -> Response:
        return answer_one(request, _record(request, record), "The offline record")


class SettleOfflineRecordView(APIView):
    @describe(
        summary="Apply a record that waits or conflicts, or set it aside",
        tag=TAG,
        request=SettleIn,
        responses=OfflineRecordRow,
        if_match=True,
        request_example={"decision": "set-aside", "reason": "The same seat was measured twice; the first one stands."},
    )
    def post(self, request: Request, record: uuid.UUID) -> Response:
        body, version = read_body(request, SettleIn), expected_version(request)

        def perform() -> Answer:
            done = settle_record(by=caller_of(request), record_id=record, expected_version=version, **body)
            return changed(_record(request, done.pk) or {})

        return answer_write(request, perform)
