"""The fitter's work: one job's whole sheet, and ten thousand records that were made without a connection.

The floor of the sheet runs the same queries and the same shaping in the smallest WSGI application. The floor of the
records writes the same rows with the rows of their changes, which stand ready as objects, into the same tables for
other jobs alike: a COPY or an UPDATE for each table and piece of 500 records; nothing is read, checked or judged.
"""

import gc
import http.client
import json
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from rest_framework.test import APIClient

from bench.answer_measures import ASKED_A_TURN, TURNS, served
from bench.job_data import RECORDS, day_on, jobs_under_way
from bench.operator_data import caller
from bench.timing import Comparison, compare
from jobs.models import JobCharacteristic, JobStep, Measurement, Nonconformity, OfflineRecord
from jobs.operations.offline_records import CHUNK
from services.api.identifiers import new_id
from services.api.many_rows import insert_many, update_many
from services.changes.models import Change
from services.changes.recording import Recorded, record_changes

FITTER = "runa"
BATCHES = 3
STEP_COLUMNS = ["state", "done_by", "done_at", "note"]


def measures_of_a_sheet(tokens: dict[str, str]) -> Iterator[Comparison]:
    """One measure: the sheet of a job on which everything has been measured."""
    jobs = jobs_under_way(1, by=caller(FITTER))[0]
    _hand_in(tokens, _sent(jobs))
    path = f"/api/v1/jobs/{jobs[0]}/steps"
    with (
        served("services.wsgi", login=FITTER) as ours,
        served("bench.smallest_web", login=FITTER) as floor,
    ):
        asked = {
            side: http.client.HTTPConnection("127.0.0.1", port) for side, port in (("ours", ours), ("floor", floor))
        }

        def ask(side: str) -> bytes:
            asked[side].close()
            for _ in range(ASKED_A_TURN):
                asked[side].request("GET", path, headers={"Authorization": f"Bearer {tokens[FITTER]}"})
                got = asked[side].getresponse()
                body = got.read()
                assert got.status == 200, body
            return body

        body = ask("ours")
        assert ask("floor") == body
        steps = json.loads(body)["steps"]
        measured = sum(len(asked["measurements"]) for one in steps for asked in one["characteristics"])
        yield compare(
            f"One job's sheet of {len(steps)} steps and {measured} measurements ({len(body) // 1024} KiB), over HTTP",
            lambda _: ask("ours"), lambda _: ask("floor"),
            floor_words="the same queries and shaping in the smallest WSGI application, same server",
            unit="sheets", per_turn=ASKED_A_TURN, turns=TURNS,
        )  # fmt: skip


def measures_of_offline_records(tokens: dict[str, str]) -> Iterator[Comparison]:
    """One measure: a batch as large as a request may be, each turn on jobs of its own."""
    pattern, *others = jobs_under_way(1 + 2 * (BATCHES + 1), by=caller(FITTER))
    _hand_in(tokens, _sent(pattern))
    ours, floors = others[: BATCHES + 1], others[BATCHES + 1 :]
    bodies = [_sent(jobs) for jobs in ours]
    rows = [_rows_of(pattern, jobs) for jobs in floors]
    # What stands ready is not looked through again by every collection of either side.
    gc.collect()
    gc.freeze()
    yield compare(
        f"{RECORDS:,} records made without a connection, of {len(pattern)} jobs, in no order",
        lambda turn: _hand_in(tokens, bodies[turn]), lambda turn: _write(rows[turn]),
        floor_words="the same rows and their changes written in pieces of 500, ready as objects",
        unit="records", per_turn=RECORDS, turns=BATCHES,
    )  # fmt: skip
    gc.unfreeze()
    written = [JobStep.objects.filter(job_id__in=jobs, state="done").count() for jobs in (ours[-1], floors[-1])]
    assert written[0] == written[1] > 0, written


def _sent(jobs: Sequence[uuid.UUID]) -> bytes:
    return json.dumps({"device": "phone", "records": day_on(jobs)}).encode()


def _hand_in(tokens: dict[str, str], body: bytes) -> None:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {tokens[FITTER]}")
    got = client.post("/api/v1/offline-records", body, content_type="application/json")
    assert got.status_code == 200, got.content
    # The answer is not taken apart: that would be measured as well.
    assert got.content.startswith(b'{"counts":{"applied":%d}' % RECORDS), got.content[:200]


@dataclass
class _Piece:
    """What 500 records come to."""

    records: list[OfflineRecord]
    measurements: list[Measurement]
    raised: list[Nonconformity]
    steps: list[JobStep]
    changes: list[Recorded]


def _rows_of(pattern: Sequence[uuid.UUID], jobs: Sequence[uuid.UUID]) -> list[_Piece]:
    """The rows that came of the pattern's records, in its pieces, for other jobs."""
    to: dict[Any, Any] = dict(zip(pattern, jobs, strict=True))
    to |= _twins(JobStep, "number", pattern, jobs) | _twins(JobCharacteristic, "code", pattern, jobs)
    kept = list(OfflineRecord.objects.filter(job_id__in=pattern))
    measured = {one.pk: one for one in Measurement.objects.filter(job_id__in=pattern)}
    raised = {one.measurement_id: one for one in Nonconformity.objects.filter(job_id__in=pattern)}
    steps = {(one.job_id, one.number): one for one in JobStep.objects.filter(job_id__in=pattern)}
    told: dict[uuid.UUID, list[Change]] = {}
    for change in Change.objects.filter(noun__in=["measurement", "nonconformity", "job-step"]).order_by("pk"):
        told.setdefault(change.noun_id, []).append(change)
    to |= {pk: new_id() for pk in [*(one.client_id for one in kept), *(one.pk for one in raised.values())]}
    kept.sort(key=lambda one: (str(one.job_id), one.occurred_at, one.kind, one.client_id))
    pieces = []
    for start in range(0, len(kept), CHUNK):
        piece = _Piece(kept[start : start + CHUNK], [], [], [], [])
        for one in piece.records:
            if one.kind == "measurement":
                piece.measurements.append(measured[one.client_id])
                found = [one.client_id]
                if one.client_id in raised:
                    piece.raised.append(raised[one.client_id])
                    found.append(raised[one.client_id].pk)
            else:
                step = steps[one.job_id, one.content["step"]]
                piece.steps.append(step)
                found = [step.pk]
            piece.changes += [_told(change, to) for noun in found for change in told[noun]]
        pieces.append(
            _Piece(
                [_copied(one, {"id": new_id()}, to) for one in piece.records],
                [_copied(one, {}, to) for one in piece.measurements],
                [_copied(one, {}, to) for one in piece.raised],
                [_copied(one, {}, to) for one in piece.steps],
                piece.changes,
            )
        )
    return pieces


def _twins(model: Any, name: str, pattern: Sequence[uuid.UUID], jobs: Sequence[uuid.UUID]) -> dict[Any, Any]:
    there = {(job, key): pk for pk, job, key in model.objects.filter(job_id__in=jobs).values_list("id", "job_id", name)}
    other = dict(zip(pattern, jobs, strict=True))
    rows = model.objects.filter(job_id__in=pattern).values_list("id", "job_id", name)
    return {pk: there[other[job], key] for pk, job, key in rows}


def _copied(one: Any, changed: dict[str, Any], to: dict[Any, Any]) -> Any:
    values = {field.attname: getattr(one, field.attname) for field in one._meta.concrete_fields}
    return type(one)(**{
        name: to.get(value, value) if isinstance(value, uuid.UUID) else value for name, value in values.items()
    } | changed)  # fmt: skip


def _told(change: Change, to: dict[Any, Any]) -> Recorded:
    said = dict(change.body or {})
    body = said | {"job": to[uuid.UUID(said["job"])]}
    return Recorded(change.kind, change.noun, to[change.noun_id], change.noun_version, change.site_id, body)


def _write(pieces: Sequence[_Piece]) -> None:
    by = caller(FITTER)
    for piece in pieces:
        with transaction.atomic(durable=True):
            insert_many(piece.records)
            insert_many(piece.measurements)
            insert_many(piece.raised)
            update_many(piece.steps, STEP_COLUMNS)
            record_changes(piece.changes, by=by)
