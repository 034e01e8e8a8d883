"""Transfers of stock from site to site."""

import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models import Transfer
from kits.operations.transfer_receipts import Came, close_transfer_short, receive_transfer
from kits.operations.transfers import Wanted, approve_transfer, cancel_transfer, send_transfer
from kits.queries.transfers import lines_of, transfers
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Transfers"


class TransferLotShape(serializers.Serializer[Any]):
    lot = serializers.CharField()
    expires_on = serializers.DateField(allow_null=True)
    sent = serializers.DecimalField(max_digits=12, decimal_places=3)
    received = serializers.DecimalField(max_digits=12, decimal_places=3)


class DiscrepancyShape(serializers.Serializer[Any]):
    lot = serializers.CharField()
    quantity = serializers.DecimalField(
        max_digits=12, decimal_places=3, help_text="Above zero: more came than left; below: less."
    )
    reason = serializers.CharField()
    by_name = serializers.CharField()
    recorded_at = serializers.DateTimeField()


class TransferLineShape(serializers.Serializer[Any]):
    line = serializers.IntegerField()
    item = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    sent = serializers.DecimalField(max_digits=12, decimal_places=3)
    received = serializers.DecimalField(max_digits=12, decimal_places=3)
    lots = TransferLotShape(many=True)
    discrepancies = DiscrepancyShape(many=True)


class LendingWarningShape(serializers.Serializer[Any]):
    code = serializers.CharField(help_text="too-few-free, own-jobs-short or below-reorder-point.")
    item = serializers.UUIDField()
    words = serializers.CharField()


class TransferRow(Rows):
    computed = ("lines",)
    id = serializers.UUIDField()
    number = serializers.CharField()
    from_site = serializers.UUIDField()
    from_site_code = serializers.CharField(source="from_site.code")
    to_site = serializers.UUIDField()
    to_site_code = serializers.CharField(source="to_site.code")
    state = serializers.CharField(help_text="approved, sent, part-received, received, closed-short or cancelled.")
    expected_on = serializers.DateField(help_text="At the receiver; until it is sent, as if it left when approved.")
    days = serializers.IntegerField()
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, help_text="Of moving one piece.")
    currency = serializers.CharField()
    reservation = serializers.UUIDField(allow_null=True)
    job_number = serializers.CharField(source="reservation.job_number", allow_null=True)
    warnings = LendingWarningShape(
        many=True,
        source="shown_warnings",
        help_text="What spoke against lending when it was approved; shown to who has a role at the lender.",
    )
    override_reason = serializers.CharField(
        source="shown_override", help_text="Why it was approved all the same; shown to who has a role at the lender."
    )
    approved_by_name = serializers.CharField(source="approved_by.name")
    sent_at = serializers.DateTimeField(allow_null=True)
    sent_by_name = serializers.CharField(source="sent_by.name", allow_null=True)
    closed_reason = serializers.CharField()
    lines = TransferLineShape(many=True)
    version = serializers.IntegerField()


class TransferFilters(Filters):
    from_site = django_filters.UUIDFilter("from_site_id", help_text="The lender's id.")
    to_site = django_filters.UUIDFilter("to_site_id", help_text="The receiver's id.")
    number = django_filters.CharFilter(help_text="The transfer's number.")
    state = django_filters.CharFilter(help_text="One state.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")

    class Meta:
        model = Transfer
        fields: list[str] = []


class WantedIn(Body):
    item = serializers.UUIDField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)


class TransferIn(Body):
    id = serializers.UUIDField(required=False)
    from_site = serializers.UUIDField()
    to_site = serializers.UUIDField()
    lines = WantedIn(many=True)
    reservation = serializers.UUIDField(required=False, help_text="The claim at the receiver that it is meant for.")
    override_reason = serializers.CharField(
        max_length=300, required=False, help_text="Needed where the lender would run short itself."
    )


class LeavingIn(Body):
    line = serializers.IntegerField()
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3, min_value=Decimal(0))


class SendTransferIn(Body):
    lines = LeavingIn(many=True, required=False, help_text="Where less leaves than was agreed.")
    occurred_at = serializers.DateTimeField(required=False)


class CameIn(Body):
    line = serializers.IntegerField()
    lot = serializers.CharField(max_length=60)
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)


class ReceiveTransferIn(Body):
    lines = CameIn(many=True, required=False, help_text="What came; all that is under way if left out.")
    bin = serializers.CharField(max_length=40, required=False, help_text="Its code; the default bin if left out.")
    occurred_at = serializers.DateTimeField(required=False)


class TransferReasonIn(Body):
    reason = serializers.CharField(max_length=300)


def transfer_row(by: Caller, transfer_id: Any) -> dict[str, Any] | None:
    """A transfer as it is answered. Four queries."""
    found = TransferRow.select(transfers(by=by).filter(pk=transfer_id)).first()
    return None if found is None else {**found, "lines": lines_of([found["id"]]).get(found["id"], [])}


class TransfersView(ListView):
    rows = TransferRow
    filters = TransferFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return transfers(by=caller_of(request))

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        if page and "id" in page[0]:
            lines = lines_of([one["id"] for one in page])
            for one in page:
                one["lines"] = lines.get(one["id"], [])

    @describe(
        summary="List transfers from or to your sites, the newest first",
        tag=TAG,
        responses=page_of(TransferRow),
        filters=TransferFilters,
        operation_id="transfers_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Approve a transfer",
        tag=TAG,
        request=TransferIn,
        responses=TransferRow,
        status=201,
        description=(
            "By somebody who is stores, planner or admin at both sites. Nothing is set aside at the lender; the lots "
            "are chosen when it is sent. Where the lender would run short itself a reason is asked for. Without a "
            "transit time between the two it is refused."
        ),
        request_example={
            "from_site": "0199a0c4-0000-7000-8000-000000000002",
            "to_site": "0199a0c4-0000-7000-8000-000000000001",
            "lines": [{"item": "0199a0c4-0000-7000-8000-0000000000bb", "quantity": "1"}],
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, TransferIn)

        def perform() -> Answer:
            made = approve_transfer(
                by=caller_of(request),
                from_site=body["from_site"],
                to_site=body["to_site"],
                lines=[Wanted(one["item"], one["quantity"]) for one in body["lines"]],
                reservation_id=body.get("reservation"),
                override_reason=body.get("override_reason", ""),
                transfer_id=body.get("id"),
            )
            return created(transfer_row(caller_of(request), made.pk) or {}, f"/api/v1/transfers/{made.pk}")

        return answer_write(request, perform, key_required=True)


class TransferView(APIView):
    @describe(
        summary="One transfer with its lines and lots", tag=TAG, responses=TransferRow, operation_id="transfers_read"
    )
    def get(self, request: Request, transfer: uuid.UUID) -> Response:
        return answer_one(request, transfer_row(caller_of(request), transfer), "The transfer")


def _act(request: Request, transfer: uuid.UUID, do: Callable[..., Any], *, key_required: bool = False) -> Response:
    version, by = expected_version(request), caller_of(request)

    def perform() -> Answer:
        do(by=by, transfer_id=transfer, expected_version=version)
        return changed(transfer_row(by, transfer) or {})

    return answer_write(request, perform, key_required=key_required)


class SendTransferView(APIView):
    @describe(
        summary="Send a transfer",
        tag=TAG,
        request=SendTransferIn,
        responses=TransferRow,
        if_match=True,
        description=(
            "By stores of the lender. What leaves is taken off the shelves: the lots that expire first, as far as they "
            "are not reserved and will be in date on arrival and on the job's day."
        ),
        request_example={"lines": [{"line": 1, "quantity": "1"}]},
    )
    def post(self, request: Request, transfer: uuid.UUID) -> Response:
        body = read_body(request, SendTransferIn)
        less = {one["line"]: one["quantity"] for one in body.get("lines", [])}
        when = body.get("occurred_at")
        return _act(
            request,
            transfer,
            lambda **seen: send_transfer(quantities=less, occurred_at=when, **seen),
            key_required=True,
        )


class ReceiveTransferView(APIView):
    @describe(
        summary="Receive a transfer, whole or in part",
        tag=TAG,
        request=ReceiveTransferIn,
        responses=TransferRow,
        if_match=True,
        description=(
            "By stores of the receiver. What came goes on the shelf with the lot it left with. More than left, or what "
            "comes after it was closed short, is recorded as it is and as a discrepancy."
        ),
        request_example={"lines": [{"line": 1, "lot": "L-3310", "quantity": "1"}], "bin": "A-04"},
    )
    def post(self, request: Request, transfer: uuid.UUID) -> Response:
        body = read_body(request, ReceiveTransferIn)
        came = None
        if "lines" in body:
            came = [Came(one["line"], one["lot"], one["quantity"]) for one in body["lines"]]
        place, when = body.get("bin", ""), body.get("occurred_at")
        return _act(
            request,
            transfer,
            lambda **seen: receive_transfer(came=came, bin_code=place, occurred_at=when, **seen),
            key_required=True,
        )


class CloseTransferShortView(APIView):
    @describe(
        summary="Close a transfer short",
        tag=TAG,
        request=TransferReasonIn,
        responses=TransferRow,
        if_match=True,
        description="By stores of the receiver: the rest will not come, and is recorded as a discrepancy lot by lot.",
        request_example={"reason": "one pack was crushed on the way"},
    )
    def post(self, request: Request, transfer: uuid.UUID) -> Response:
        body = read_body(request, TransferReasonIn)
        return _act(request, transfer, lambda **seen: close_transfer_short(reason=body["reason"], **seen))


class CancelTransferView(APIView):
    @describe(
        summary="Cancel a transfer",
        tag=TAG,
        request=TransferReasonIn,
        responses=TransferRow,
        if_match=True,
        description=(
            "Before it is sent by stores, planner or admin of either site; afterwards by stores of the lender, who has "
            "the goods back: they return to the shelves they came from."
        ),
        request_example={"reason": "the job was put off"},
    )
    def post(self, request: Request, transfer: uuid.UUID) -> Response:
        body = read_body(request, TransferReasonIn)
        return _act(request, transfer, lambda **seen: cancel_transfer(reason=body["reason"], **seen))
