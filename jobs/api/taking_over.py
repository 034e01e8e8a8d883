"""Taking a reserved kit from one job for another."""

import uuid
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.operations.taking_over import take_over_claim
from kits.api.reservations import TAG, ReservationRow, reservation_row
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.api.versions import expected_version
from services.api.writes import Answer, answer_write
from services.identity.callers import caller_of


class TakeOverIn(Body):
    reason = serializers.CharField(max_length=300)

    def get_fields(self) -> dict[str, Any]:
        """``for`` is a word of the language."""
        return {**super().get_fields(), "for": serializers.UUIDField(help_text="The other job's soft reservation.")}


class TakenOverAnswer(serializers.Serializer[Any]):
    given_up = ReservationRow()
    taken = ReservationRow()


class TakeOverView(APIView):
    @describe(
        summary="Take what a reservation holds for another job",
        tag=TAG,
        request=TakeOverIn,
        responses=TakenOverAnswer,
        if_match=True,
        description=(
            "Decided by a person: supervisor, planner, stores or admin at the site, never by the service. The lots go "
            "to the other job in one transaction; the job that gives them up falls back to a soft claim and is no "
            "longer ready, unless lots that the other cannot use serve it. Refused where free lots would do, or once "
            "the giving job has started. Who, why and in which request stands in the change feed, for both."
        ),
        request_example={"for": "0199a0c4-0000-7000-8000-0000000000dd", "reason": "P-117 is down, P-204 can wait"},
    )
    def post(self, request: Request, reservation: uuid.UUID) -> Response:
        version, body, by = expected_version(request), read_body(request, TakeOverIn), caller_of(request)

        def perform() -> Answer:
            take_over_claim(
                by=by,
                reservation_id=reservation,
                for_reservation_id=body["for"],
                expected_version=version,
                reason=body["reason"],
            )
            return Answer({"given_up": reservation_row(by, reservation), "taken": reservation_row(by, body["for"])})

        return answer_write(request, perform, key_required=True)
