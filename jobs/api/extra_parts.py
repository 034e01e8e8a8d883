"""Parts beyond the kit, and what came back from a job."""

import uuid
from decimal import Decimal
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.operations.extra_parts import ask_for_part, reserve_extra_part, take_extra_part, withdraw_extra_part
from jobs.operations.job_returns import return_from_job
from jobs.queries.extra_parts import extra_part_answer, extra_parts, job_returns
from services.api.filters import Filters
from services.api.rows import Body, NothingIn, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Extra parts"


class TakenFromShape(serializers.Serializer[Any]):
    lot = serializers.UUIDField()
    lot_number = serializers.CharField()
    quantity = serializers.CharField()


class ExtraPartRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    part = serializers.UUIDField()
    part_number = serializers.CharField(source="part.number")
    part_name = serializers.CharField(source="part.name")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    role = serializers.CharField(help_text="The position it is for.")
    reason = serializers.CharField()
    finding = serializers.UUIDField(allow_null=True)
    reservation = serializers.UUIDField(source="reservation_id")
    state = serializers.CharField(help_text="asked, taken or withdrawn.")
    taken_from = TakenFromShape(many=True)
    asked_by = serializers.CharField(source="asked_by.name")
    taken_by = serializers.CharField(source="taken_by.name", allow_null=True)
    taken_at = serializers.DateTimeField(allow_null=True)
    withdrawn_reason = serializers.CharField()
    version = serializers.IntegerField()


class ExtraPartDetail(ExtraPartRow):
    computed = ("claim", "promised_on", "promise")
    claim = serializers.CharField(help_text="soft, hard, issued or released: hard means that lots are held for it.")
    promised_on = serializers.DateField(
        allow_null=True, help_text="The first day on which it can be there, where it is not held yet."
    )
    promise = serializers.CharField(help_text="How, in words.")


class ExtraPartIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    part = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=Decimal("0.001"))
    role = serializers.CharField(max_length=40)
    reason = serializers.CharField(max_length=2000)
    finding = serializers.UUIDField(required=False)


class TakeExtraPartIn(Body):
    occurred_at = serializers.DateTimeField(required=False)


class WithdrawIn(Body):
    reason = serializers.CharField(max_length=2000)


class ExtraPartFilters(Filters):
    state = django_filters.CharFilter(help_text="asked, taken or withdrawn.")
    role = django_filters.CharFilter(help_text="The position.")

    class Meta:
        fields: list[str] = []


def _answer(by: Caller, extra_part_id: Any) -> dict[str, Any] | None:
    row = ExtraPartRow.select(extra_parts(by=by).filter(pk=extra_part_id)).first()
    return None if row is None else {**row, **extra_part_answer(by, extra_part_id)}


class JobExtraPartsView(ListView):
    rows = ExtraPartRow
    filters = ExtraPartFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return extra_parts(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="Parts a job needs beyond its kit",
        tag=TAG,
        responses=page_of(ExtraPartRow),
        filters=ExtraPartFilters,
        operation_id="job_extra_parts_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Ask for a part beyond the kit",
        tag=TAG,
        request=ExtraPartIn,
        responses=ExtraPartDetail,
        status=201,
        description=(
            "For damage that was found. It is claimed by lot where there is enough in date, else softly; the answer "
            "then says on which day it can be there, and how."
        ),
        request_example={
            "part": "0199a0c4-0000-7000-8000-0000000000ff",
            "quantity": "1",
            "role": "wear-ring-casing",
            "reason": "scored by sand",
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, ExtraPartIn)

        def perform() -> Answer:
            made = ask_for_part(
                by=caller_of(request),
                job_id=job,
                part_id=body["part"],
                quantity=body["quantity"],
                role=body["role"],
                reason=body["reason"],
                finding_id=body.get("finding"),
                extra_part_id=body.get("id"),
            )
            return created(_answer(caller_of(request), made.pk) or {}, f"/api/v1/extra-parts/{made.pk}")

        return answer_write(request, perform, key_required=True)


class ExtraPartView(APIView):
    @describe(
        summary="One extra part, with its claim and its promise",
        tag=TAG,
        responses=ExtraPartDetail,
        operation_id="extra_parts_read",
    )
    def get(self, request: Request, extra_part: uuid.UUID) -> Response:
        return answer_one(request, _answer(caller_of(request), extra_part), "The extra part")


class ReserveExtraPartView(APIView):
    @describe(
        summary="Hold lots for an extra part",
        tag=TAG,
        request=NothingIn,
        responses=ExtraPartDetail,
        description="Where it could only be claimed softly and some came in since.",
    )
    def post(self, request: Request, extra_part: uuid.UUID) -> Response:
        read_body(request, NothingIn)

        def perform() -> Answer:
            reserve_extra_part(by=caller_of(request), extra_part_id=extra_part)
            return changed(_answer(caller_of(request), extra_part) or {})

        return answer_write(request, perform, key_required=True)


class TakeExtraPartView(APIView):
    @describe(
        summary="Take an extra part off the shelf",
        tag=TAG,
        request=TakeExtraPartIn,
        responses=ExtraPartDetail,
        description="Issues it from the lots held for it, or from what has come in since. At sign-off it is fitted.",
    )
    def post(self, request: Request, extra_part: uuid.UUID) -> Response:
        body = read_body(request, TakeExtraPartIn)

        def perform() -> Answer:
            take_extra_part(by=caller_of(request), extra_part_id=extra_part, occurred_at=body.get("occurred_at"))
            return changed(_answer(caller_of(request), extra_part) or {})

        return answer_write(request, perform, key_required=True)


class WithdrawExtraPartView(APIView):
    @describe(
        summary="Withdraw an extra part that is not needed",
        tag=TAG,
        request=WithdrawIn,
        responses=ExtraPartDetail,
        request_example={"reason": "the ring could be dressed"},
    )
    def post(self, request: Request, extra_part: uuid.UUID) -> Response:
        body = read_body(request, WithdrawIn)

        def perform() -> Answer:
            withdraw_extra_part(by=caller_of(request), extra_part_id=extra_part, reason=body["reason"])
            return changed(_answer(caller_of(request), extra_part) or {})

        return answer_write(request, perform)


class JobReturnRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    extra_part = serializers.UUIDField(allow_null=True)
    lot = serializers.CharField(source="lot.number", help_text="The lot it lies in now.")
    condition = serializers.CharField(help_text="usable or quarantined.")
    movement = serializers.UUIDField(source="movement_id")
    reason = serializers.CharField()
    by = serializers.CharField(source="by.name")
    at = serializers.DateTimeField()


class JobReturnIn(Body):
    item = serializers.UUIDField(help_text="The unopened kit, or a single part.")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3, min_value=Decimal("0.001"))
    condition = serializers.ChoiceField([("usable", "Usable"), ("quarantined", "Quarantined")], required=False)
    bin = serializers.CharField(max_length=40, required=False, help_text="The bin's code; left out: the default bin.")
    extra_part = serializers.UUIDField(required=False, help_text="Where it was taken beside the kit.")
    reason = serializers.CharField(max_length=300)


class JobReturned(serializers.Serializer[Any]):
    returns = JobReturnRow(many=True)


class JobReturnsView(ListView):
    rows = JobReturnRow
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return job_returns(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="What came back from a job unused",
        tag=TAG,
        responses=page_of(JobReturnRow),
        operation_id="job_returns_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Return what was taken for a job and not used",
        tag=TAG,
        request=JobReturnIn,
        responses=JobReturned,
        status=201,
        description=(
            "An unopened kit or extra part goes back to its lot, usable unless said otherwise. A single part of an "
            "opened kit becomes a lot of its own and waits in quarantine until somebody has looked: only stores or a "
            "supervisor may call it usable. A part that was spoiled comes back too, or it counts as fitted."
        ),
        request_example={
            "item": "0199a0c4-0000-7000-8000-0000000000ff",
            "quantity": "1",
            "reason": "the old one was as good as new",
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, JobReturnIn)

        def perform() -> Answer:
            made = return_from_job(
                by=caller_of(request),
                job_id=job,
                item_id=body["item"],
                quantity=body["quantity"],
                reason=body["reason"],
                condition=body.get("condition", ""),
                bin_code=body.get("bin", ""),
                extra_part_id=body.get("extra_part"),
            )
            ids = [one.pk for one in made]
            rows = JobReturnRow.select(job_returns(by=caller_of(request)).filter(pk__in=ids).order_by("id"))
            return Answer({"returns": list(rows)}, 201)

        return answer_write(request, perform, key_required=True)
