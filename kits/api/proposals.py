"""Proposals of replenishment with their working, and asking for a run."""

import uuid
from collections.abc import Callable, Iterable
from typing import Any

import django_filters
from django.db.models import F
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models import Proposal
from kits.operations.proposals import approve_proposal, edit_proposal, reject_proposal, snooze_proposal
from kits.operations.replenishment import request_run
from kits.queries.other_sites import hide_other_sites
from kits.queries.proposals import proposals
from services.api.filters import Filters, TextInFilter
from services.api.rows import Body, Rows, chosen_fields, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed
from services.identity.callers import Caller, caller_of

TAG = "Replenishment"


class ProposalRow(Rows):
    id = serializers.UUIDField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    item_name = serializers.CharField(source="item.name")
    kind = serializers.CharField(help_text="buy, or transfer from the lender.")
    lender = serializers.UUIDField(allow_null=True)
    lender_code = serializers.CharField(source="lender.code", allow_null=True)
    supplier = serializers.UUIDField(allow_null=True)
    supplier_code = serializers.CharField(source="supplier.code", allow_null=True)
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)
    price = serializers.DecimalField(max_digits=14, decimal_places=4)
    currency = serializers.CharField()
    expected_on = serializers.DateField(help_text="When it would be here if decided on at once.")
    need_by = serializers.DateField(allow_null=True, help_text="When what there is is used up at the expected pace.")
    firm_shortage = serializers.BooleanField(help_text="Jobs ask for more than there is and comes in time.")
    warnings = serializers.ListField(
        child=serializers.DictField(), help_text="What to look at before approving: code and words."
    )
    frozen_until = serializers.DateField(allow_null=True, help_text="Before it, only jobs that go short change it.")
    state = serializers.CharField(help_text="open, snoozed, approved, rejected or withdrawn.")
    words = serializers.CharField(help_text="The working as sentences.")
    working = serializers.DictField(help_text="Everything the quantity came from.")
    as_of = serializers.DateField()
    decided_by_name = serializers.CharField(source="decided_by.name", allow_null=True)
    decided_at = serializers.DateTimeField(allow_null=True)
    decision_reason = serializers.CharField()
    automatic = serializers.BooleanField(help_text="Whether replenishment approved it by itself, within its limit.")
    holds_until = serializers.DateField(allow_null=True)
    order = serializers.UUIDField(source="order_line.order_id", allow_null=True)
    order_number = serializers.CharField(source="order_line.order.number", allow_null=True)
    transfer = serializers.UUIDField(allow_null=True)
    transfer_number = serializers.CharField(source="transfer.number", allow_null=True)
    edited_by_name = serializers.CharField(source="edited_by.name", allow_null=True)
    version = serializers.IntegerField()

    @classmethod
    def columns(cls, only: Iterable[str] | None = None) -> tuple[list[str], dict[str, F]]:
        """The working too, whatever was asked for: it says which sites the words tell of."""
        return super().columns(None if only is None else {*only, "working"})


class ProposalFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")
    kind = django_filters.CharFilter(help_text="buy or transfer.")
    firm_shortage = django_filters.BooleanFilter(help_text="Whether jobs go short.")
    state = django_filters.CharFilter(help_text="One state.")
    state__in = TextInFilter("state", help_text="Several states, separated by commas.")

    automatic = django_filters.BooleanFilter(help_text="Whether replenishment approved it by itself.")
    decided_at__gte = django_filters.IsoDateTimeFilter("decided_at", "gte", help_text="Decided then or later.")
    supplier = django_filters.UUIDFilter("supplier_id", help_text="The supplier's id.")

    class Meta:
        model = Proposal
        fields: list[str] = []


class ApproveIn(Body):
    quantity = serializers.DecimalField(
        max_digits=12, decimal_places=3, required=False, help_text="If another one than proposed."
    )
    override_reason = serializers.CharField(
        max_length=300, required=False, help_text="Why a lender that would run short lends all the same."
    )


class EditIn(Body):
    quantity = serializers.DecimalField(max_digits=12, decimal_places=3)


class RejectIn(Body):
    reason = serializers.CharField(max_length=300)
    until = serializers.DateField(required=False, help_text="Not proposed again before; 30 days if left out.")


class SnoozeIn(Body):
    until = serializers.DateField()


class RunIn(Body):
    site = serializers.UUIDField()


class RunAnswer(serializers.Serializer[Any]):
    run = serializers.UUIDField()
    state = serializers.CharField()


def proposal_row(by: Caller, proposal_id: Any) -> dict[str, Any] | None:
    """A proposal as it is answered."""
    row = ProposalRow.select(proposals(by=by).filter(pk=proposal_id)).first()
    if row is not None:
        hide_other_sites(by, [row])
    return row


class ProposalsView(ListView):
    rows = ProposalRow
    filters = ProposalFilters
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return proposals(by=caller_of(request))

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        hide_other_sites(caller_of(request), page)
        only = chosen_fields(request, self.rows)
        if only is not None and "working" not in only:
            for row in page:
                row.pop("working", None)

    @describe(
        summary="List proposals, the newest first",
        tag=TAG,
        responses=page_of(ProposalRow),
        filters=ProposalFilters,
        operation_id="replenishment_proposals_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class ProposalView(APIView):
    @describe(
        summary="One proposal with its working",
        tag=TAG,
        responses=ProposalRow,
        operation_id="replenishment_proposals_read",
    )
    def get(self, request: Request, proposal: uuid.UUID) -> Response:
        return answer_one(request, proposal_row(caller_of(request), proposal), "The proposal")

    @describe(
        summary="Propose another quantity",
        tag=TAG,
        request=EditIn,
        responses=ProposalRow,
        if_match=True,
        description="It stands until somebody decides, unless jobs go short or it is no longer needed.",
        request_example={"quantity": "6"},
        operation_id="replenishment_proposals_edit",
    )
    def patch(self, request: Request, proposal: uuid.UUID) -> Response:
        body = read_body(request, EditIn)
        return _act(
            request,
            proposal,
            lambda version: edit_proposal(
                by=caller_of(request), proposal_id=proposal, expected_version=version, quantity=body["quantity"]
            ),
        )


def _act(request: Request, proposal: uuid.UUID, do: Callable[[int], Any], *, key_required: bool = False) -> Response:
    version = expected_version(request)

    def perform() -> Answer:
        do(version)
        return changed(proposal_row(caller_of(request), proposal) or {})

    return answer_write(request, perform, key_required=key_required)


class ApproveView(APIView):
    @describe(
        summary="Approve a proposal",
        tag=TAG,
        request=ApproveIn,
        responses=ProposalRow,
        if_match=True,
        description=(
            "Adds a line to the site's unsent order at the supplier, which is made where there is none; a proposal to "
            "borrow agrees on a transfer from the lender, by somebody with a role at both sites. "
            "Refused where an order would be worth more than the caller's approval limit."
        ),
    )
    def post(self, request: Request, proposal: uuid.UUID) -> Response:
        body = read_body(request, ApproveIn)
        return _act(
            request,
            proposal,
            lambda version: approve_proposal(
                by=caller_of(request),
                proposal_id=proposal,
                expected_version=version,
                quantity=body.get("quantity"),
                override_reason=body.get("override_reason", ""),
            ),
            key_required=True,
        )


class RejectView(APIView):
    @describe(
        summary="Reject a proposal",
        tag=TAG,
        request=RejectIn,
        responses=ProposalRow,
        if_match=True,
        request_example={"reason": "pump is replaced in spring", "until": "2027-03-01"},
    )
    def post(self, request: Request, proposal: uuid.UUID) -> Response:
        body = read_body(request, RejectIn)
        return _act(
            request,
            proposal,
            lambda version: reject_proposal(
                by=caller_of(request),
                proposal_id=proposal,
                expected_version=version,
                reason=body["reason"],
                until=body.get("until"),
            ),
        )


class SnoozeView(APIView):
    @describe(
        summary="Put a proposal off",
        tag=TAG,
        request=SnoozeIn,
        responses=ProposalRow,
        if_match=True,
        request_example={"until": "2027-01-15"},
    )
    def post(self, request: Request, proposal: uuid.UUID) -> Response:
        body = read_body(request, SnoozeIn)
        return _act(
            request,
            proposal,
            lambda version: snooze_proposal(
                by=caller_of(request), proposal_id=proposal, expected_version=version, until=body["until"]
            ),
        )


class ReplenishmentRunsView(APIView):
    @describe(
        summary="Ask for a replenishment run of a site",
        tag=TAG,
        request=RunIn,
        responses=RunAnswer,
        status=202,
        description="Recorded and taken up by a worker; GET /background-runs/{id} tells how it went.",
        request_example={"site": "0199a0c4-0000-7000-8000-000000000001"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, RunIn)

        def perform() -> Answer:
            run = request_run(by=caller_of(request), site_id=body["site"])
            return Answer({"run": run, "state": "queued"}, 202, {"Location": f"/api/v1/background-runs/{run}"})

        return answer_write(request, perform, key_required=True)
