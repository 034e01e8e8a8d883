"""The steps of a job: reading the sheet, confirming, releasing hold points."""

import uuid
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.measurements import MeasurementShape
from jobs.api.procedures import ConsumableShape, WantedPhotoShape
from jobs.calculations.safety_words import SAFETY
from jobs.operations.steps import confirm_step, release_hold_point
from jobs.queries.instruments import usable_at
from jobs.queries.jobs import job_for, steps, types_of
from services.api.refusals import NotThere
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.api.versions import etag, expected_version
from services.api.writes import Answer, answer_write, changed
from services.identity.callers import caller_of

TAG = "Steps"


class AskedGroupShape(serializers.Serializer[Any]):
    name = serializers.CharField(allow_null=True, help_text="Null: readings are sent as a plain list.")
    words = serializers.CharField()
    count = serializers.IntegerField()
    places = serializers.ListField(child=serializers.CharField(), help_text="Where to read, in order; may be empty.")
    instrument = serializers.IntegerField(help_text="1, or 2 for the second instrument.")


class AskedValueShape(serializers.Serializer[Any]):
    name = serializers.CharField(help_text="Ends with its unit.")
    words = serializers.CharField()
    needed = serializers.BooleanField()
    default = serializers.CharField(allow_null=True)
    choices = serializers.ListField(child=serializers.CharField())


class AsksShape(serializers.Serializer[Any]):
    words = serializers.CharField()
    unit = serializers.CharField(help_text="To read in; another of the same kind does as well.")
    groups = AskedGroupShape(many=True)
    given = AskedValueShape(many=True)


class UsableInstrumentShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    number = serializers.CharField()
    type = serializers.CharField()
    range_from = serializers.DecimalField(max_digits=14, decimal_places=6)
    range_to = serializers.DecimalField(max_digits=14, decimal_places=6)
    unit = serializers.CharField()
    resolution = serializers.DecimalField(max_digits=14, decimal_places=6)
    expanded_uncertainty = serializers.DecimalField(max_digits=14, decimal_places=6, help_text="k = 2, in its unit.")
    calibration_due = serializers.DateField()


class JobCharacteristicShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    lower = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    upper = serializers.DecimalField(max_digits=18, decimal_places=6, allow_null=True)
    unit = serializers.CharField()
    words = serializers.CharField(help_text="Where the limits come from.")
    readings = serializers.IntegerField(help_text="Of each group.")
    rule = serializers.CharField()
    set_up = serializers.DictField(help_text="What the rule knows besides readings.")
    asks = AsksShape(help_text="What to ask the fitter for, in this order.")
    instrument_type = serializers.CharField()
    second_instrument_type = serializers.CharField(help_text="Empty where one instrument does.")
    decision_rule = serializers.CharField()
    guard_factor = serializers.DecimalField(
        max_digits=4, decimal_places=2, help_text="The guard band is this many times half the expanded uncertainty."
    )
    measurements = MeasurementShape(many=True)


class JobStepShape(serializers.Serializer[Any]):
    number = serializers.IntegerField()
    section = serializers.CharField()
    title = serializers.CharField()
    instruction = serializers.CharField()
    signal_word = serializers.CharField()
    caution = serializers.CharField(help_text="Always shown with the step; never collapsed.")
    tools = serializers.ListField(child=serializers.CharField())
    consumables = ConsumableShape(many=True)
    positions = serializers.ListField(child=serializers.CharField())
    hold_point = serializers.BooleanField()
    look_at = serializers.CharField(help_text="What the second person looks at at a hold point.")
    photos = WantedPhotoShape(many=True)
    state = serializers.CharField(help_text="open, done, awaiting-release, not-applicable or moved.")
    why = serializers.CharField()
    advice = serializers.ListField(child=serializers.DictField(), help_text="Worked out for this pump and kit.")
    note = serializers.CharField()
    done_by = serializers.CharField(allow_null=True)
    done_at = serializers.DateTimeField(allow_null=True)
    released_by = serializers.CharField(allow_null=True)
    released_at = serializers.DateTimeField(allow_null=True)
    moved_to = serializers.UUIDField(allow_null=True, help_text="The follow-up job that does it.")
    moved_to_number = serializers.CharField(allow_null=True)
    done_under = serializers.CharField(allow_null=True, help_text="The number of the earlier job that did it.")
    version = serializers.IntegerField()
    characteristics = JobCharacteristicShape(many=True)


class JobSheet(serializers.Serializer[Any]):
    job = serializers.UUIDField()
    number = serializers.CharField()
    state = serializers.CharField()
    safety = serializers.CharField()
    steps = JobStepShape(many=True)
    instruments = UsableInstrumentShape(many=True, help_text="At the job's site, of the types that its steps ask for.")


class ConfirmIn(Body):
    occurred_at = serializers.DateTimeField(required=False, help_text="When it was done; now, if left out.")
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True)


class ReleaseIn(Body):
    remark = serializers.CharField(max_length=2000, required=False, allow_blank=True)


def _step(request: Request, job: uuid.UUID, number: int) -> dict[str, Any]:
    job_for(caller_of(request), job)
    found = next((one for one in steps(job) if one["number"] == number), None)
    if found is None:
        raise NotThere(f"The job has no step {number}.", remedy="Read its steps.")
    return found


class JobStepsView(APIView):
    @describe(
        summary="The job sheet: every step with its cautions, limits, advice and measurements",
        tag=TAG,
        responses=JobSheet,
        operation_id="job_steps_list",
    )
    def get(self, request: Request, job: uuid.UUID) -> Response:
        found = job_for(caller_of(request), job)
        rows = steps(job)
        body = {
            "job": found.pk,
            "number": found.number,
            "state": found.state,
            "safety": SAFETY,
            "steps": rows,
            "instruments": usable_at(found.site_id, types_of(rows)),
        }
        return Response(body, headers={"Cache-Control": "private, no-cache"})


class JobStepView(APIView):
    @describe(summary="One step of a job", tag=TAG, responses=JobStepShape, operation_id="job_steps_read")
    def get(self, request: Request, job: uuid.UUID, number: int) -> Response:
        row = _step(request, job, number)
        return Response(row, headers={"ETag": etag(row["version"]), "Cache-Control": "private, no-cache"})


class ConfirmStepView(APIView):
    @describe(
        summary="Confirm a step",
        tag=TAG,
        request=ConfirmIn,
        responses=JobStepShape,
        description="Refused while making safe is unconfirmed, a hold point waits, or a measurement is not accepted.",
    )
    def post(self, request: Request, job: uuid.UUID, number: int) -> Response:
        body = read_body(request, ConfirmIn)

        def perform() -> Answer:
            confirm_step(by=caller_of(request), job_id=job, number=number, **body)
            return changed(_step(request, job, number))

        return answer_write(request, perform)


class ReleaseStepView(APIView):
    @describe(
        summary="Release a hold point",
        tag=TAG,
        request=ReleaseIn,
        responses=JobStepShape,
        if_match=True,
        description="By a supervisor other than the one who did the step; signed over what was seen.",
    )
    def post(self, request: Request, job: uuid.UUID, number: int) -> Response:
        version, body = expected_version(request), read_body(request, ReleaseIn)

        def perform() -> Answer:
            release_hold_point(by=caller_of(request), job_id=job, number=number, expected_version=version, **body)
            return changed(_step(request, job, number))

        return answer_write(request, perform)
