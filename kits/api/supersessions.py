"""Supersessions: which part replaces which, chains of them, and the newest of many parts at once."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.api.fits import day_of
from kits.models import Supersession
from kits.operations.supersessions import change_supersession, register_supersession, withdraw_supersession
from kits.queries.parts import supersessions
from kits.queries.supersessions import resolve, supersessions_of_part
from services.api.filters import Filters, check_parameters
from services.api.refusals import InvalidValue
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Catalogue"
MOST_AT_ONCE = 1000


class SupersessionRow(Rows):
    id = serializers.UUIDField()
    old = serializers.UUIDField()
    old_number = serializers.CharField(source="old.item.number")
    new = serializers.UUIDField()
    new_number = serializers.CharField(source="new.item.number")
    from_date = serializers.DateField()
    until_date = serializers.DateField(
        allow_null=True, help_text="The last day on which it holds; before from_date where it never did."
    )
    both_ways = serializers.BooleanField(help_text="The old may also stand for the new.")
    version = serializers.IntegerField()


class SupersessionIn(Body):
    id = serializers.UUIDField(required=False)
    old = serializers.UUIDField()
    new = serializers.UUIDField()
    from_date = serializers.DateField()
    until_date = serializers.DateField(required=False, allow_null=True, help_text="The last day on which it holds.")
    both_ways = serializers.BooleanField(required=False)


class SupersessionChange(Body):
    from_date = serializers.DateField(required=False)
    until_date = serializers.DateField(required=False, allow_null=True, help_text="The last day on which it holds.")
    both_ways = serializers.BooleanField(required=False)


class SupersessionWithdrawal(Body):
    last_day = serializers.DateField(required=False, help_text="It holds for the last time; yesterday if left out.")


class SupersessionFilters(Filters):
    old = django_filters.UUIDFilter("old_id", help_text="The part replaced.")
    new = django_filters.UUIDFilter("new_id", help_text="The part that replaces it.")

    class Meta:
        model = Supersession
        fields: list[str] = []


def _supersession(by: Caller, pk: Any) -> dict[str, Any] | None:
    return SupersessionRow.select(supersessions(by=by).filter(pk=pk)).first()


class SupersessionsView(ListView):
    rows = SupersessionRow
    filters = SupersessionFilters
    order = ("from_date", "id")

    def rows_for(self, request: Request) -> Any:
        return supersessions(by=caller_of(request))

    @describe(
        summary="List supersessions",
        tag=TAG,
        responses=page_of(SupersessionRow),
        filters=SupersessionFilters,
        operation_id="supersessions_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Say that one part replaces another",
        tag=TAG,
        request=SupersessionIn,
        responses=SupersessionRow,
        status=201,
        request_example={
            "old": "0199a0c4-0000-7000-8000-000000000006",
            "new": "0199a0c4-0000-7000-8000-000000000007",
            "from_date": "2026-01-01",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, SupersessionIn)

        def perform() -> Answer:
            made = register_supersession(
                by=caller_of(request),
                old_id=body["old"],
                new_id=body["new"],
                from_date=body["from_date"],
                until_date=body.get("until_date"),
                both_ways=body.get("both_ways", False),
                supersession_id=body.get("id"),
            )
            return created(_supersession(caller_of(request), made.pk) or {}, f"/api/v1/supersessions/{made.pk}")

        return answer_write(request, perform, key_required=True)


class SupersessionView(APIView):
    @describe(summary="One supersession", tag=TAG, responses=SupersessionRow, operation_id="supersessions_read")
    def get(self, request: Request, supersession: uuid.UUID) -> Response:
        return answer_one(request, _supersession(caller_of(request), supersession), "The supersession")

    @describe(
        summary="Change the dates or direction of a supersession",
        tag=TAG,
        request=SupersessionChange,
        responses=SupersessionRow,
        if_match=True,
        request_example={"both_ways": True},
    )
    def patch(self, request: Request, supersession: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SupersessionChange, partial=True)

        def perform() -> Answer:
            change_supersession(by=caller_of(request), supersession_id=supersession, expected_version=version, **body)
            return changed(_supersession(caller_of(request), supersession) or {})

        return answer_write(request, perform)


class WithdrawSupersessionView(APIView):
    @describe(
        summary="Take a supersession back",
        tag=TAG,
        request=SupersessionWithdrawal,
        responses=SupersessionRow,
        if_match=True,
        description="It holds no longer after the day named; what was done under it stays explained.",
        request_example={"last_day": "2026-11-30"},
    )
    def post(self, request: Request, supersession: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SupersessionWithdrawal)

        def perform() -> Answer:
            withdraw_supersession(by=caller_of(request), supersession_id=supersession, expected_version=version, **body)
            return changed(_supersession(caller_of(request), supersession) or {})

        return answer_write(request, perform)


class PartInChainShape(serializers.Serializer[Any]):
    part = serializers.UUIDField()
    number = serializers.CharField()


class ChainStepShape(PartInChainShape):
    supersession = serializers.UUIDField(help_text="The supersession by which it is reached.")
    steps = serializers.IntegerField(help_text="How many supersessions away.")
    from_date = serializers.DateField()
    until_date = serializers.DateField(allow_null=True)
    both_ways = serializers.BooleanField()
    holds = serializers.BooleanField(help_text="This supersession holds on the day.")
    stands_in = serializers.BooleanField(help_text="This part may be fitted where the one asked about was, on the day.")


class PartSupersessionsAnswer(PartInChainShape):
    on = serializers.DateField()
    newest = PartInChainShape(help_text="What would be ordered on the day; the part itself where nothing replaces it.")
    replaced_by = ChainStepShape(many=True, help_text="What came after it, nearest first, whatever the day.")
    replaces = ChainStepShape(many=True, help_text="What came before it, nearest first, whatever the day.")


class ChainParameters(Filters):
    on = django_filters.DateFilter(help_text="The day; today if left out.")


CHAIN_EXAMPLE = {
    "part": "0199a0c4-0000-7000-8000-000000000006",
    "number": "OR-226-E",
    "on": "2026-12-02",
    "newest": {"part": "0199a0c4-0000-7000-8000-000000000007", "number": "OR-226-F"},
    "replaced_by": [
        {
            "part": "0199a0c4-0000-7000-8000-000000000007",
            "number": "OR-226-F",
            "supersession": "0199a0c4-0000-7000-8000-000000000021",
            "steps": 1,
            "from_date": "2026-01-01",
            "until_date": None,
            "both_ways": False,
            "holds": True,
            "stands_in": True,
        }
    ],
    "replaces": [],
}


class PartSupersessionsView(APIView):
    @describe(
        summary="What replaces a part, and what it replaced",
        tag=TAG,
        responses=PartSupersessionsAnswer,
        filters=ChainParameters,
        operation_id="part_supersessions_read",
        description="Parts whose numbers differ only in spaces, separators and capitals are one place of a chain.",
        example=CHAIN_EXAMPLE,
    )
    def get(self, request: Request, part: uuid.UUID) -> Response:
        check_parameters(request, ["on"])
        return Response(supersessions_of_part(part, day_of(request)), headers={"Cache-Control": "private, no-cache"})


class ResolveIn(Body):
    numbers = serializers.ListField(child=serializers.CharField(max_length=60), required=False)
    parts = serializers.ListField(child=serializers.UUIDField(), required=False, help_text="Ids of parts.")
    on = serializers.DateField(required=False, help_text="The day; today if left out.")


class ResolvedShape(serializers.Serializer[Any]):
    asked = serializers.CharField(help_text="The number or id as asked.")
    parts = serializers.ListField(child=serializers.UUIDField(), help_text="Parts with this number; none: not known.")
    newest = PartInChainShape(allow_null=True)
    path = PartInChainShape(many=True, help_text="From the part asked for to the newest, both included.")


class ResolveAnswer(serializers.Serializer[Any]):
    on = serializers.DateField()
    results = ResolvedShape(many=True)


class ResolveSupersessionsView(APIView):
    reads_only = True

    @describe(
        summary="The newest of many parts at once",
        tag=TAG,
        request=ResolveIn,
        responses=ResolveAnswer,
        operation_id="supersessions_resolve",
        description=f"Numbers, ids or both, {MOST_AT_ONCE} at most; answered in their order. Nothing is written.",
        request_example={"numbers": ["OR 226 E", "BRG-6308"], "on": "2026-12-02"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, ResolveIn)
        numbers, parts = body.get("numbers", []), body.get("parts", [])
        if not 0 < len(numbers) + len(parts) <= MOST_AT_ONCE:
            raise InvalidValue(
                f"{len(numbers) + len(parts)} numbers and ids are asked about.",
                remedy=f"Ask about 1 to {MOST_AT_ONCE} at once.",
                pointer="#/numbers",
            )
        on = body.get("on") or timezone.now().date()
        return Response({"on": on, "results": resolve(numbers=numbers, part_ids=parts, on=on)})
