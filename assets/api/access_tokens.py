"""Tokens of services and of people, for administrators of the whole operator."""

import uuid
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.operations.access_tokens import end_token_of, make_service_token
from assets.queries.people import tokens_of
from services.api.rows import read_body
from services.api.schema import describe
from services.api.views import ListView
from services.api.writes import Answer, answer_write, created
from services.identity.api import TOKEN_EXAMPLE, TOKEN_PAGE, AccessTokenIn, AccessTokenRow, NewToken
from services.identity.callers import caller_of

TAG = "People"


class TokensOfPrincipalView(ListView):
    rows = AccessTokenRow
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return tokens_of(by=caller_of(request), principal_id=self.kwargs["principal"])

    @describe(
        summary="List somebody's tokens",
        tag=TAG,
        responses=TOKEN_PAGE,
        example={"results": [TOKEN_EXAMPLE], "next": None, "previous": None},
        operation_id="principal_tokens_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Make a token for a service",
        tag=TAG,
        request=AccessTokenIn,
        responses=NewToken,
        status=201,
        description="A service cannot sign in, so an administrator makes its tokens. The text is shown once.",
        example=TOKEN_EXAMPLE | {"name": "erp", "token": "bp_4f1c09ab27de_…"},
        request_example={"name": "erp", "scopes": ["read", "write"], "expires_at": "2027-06-30T00:00:00Z"},
    )
    def post(self, request: Request, principal: uuid.UUID) -> Response:
        body = read_body(request, AccessTokenIn)
        by = caller_of(request)

        def perform() -> Answer:
            made, text = make_service_token(by=by, principal_id=principal, **body)
            row = AccessTokenRow.select(tokens_of(by=by, principal_id=principal).filter(pk=made.pk)).get()
            location = f"/api/v1/principals/{principal}/access-tokens/{made.pk}"
            return created(row | {"token": text}, location, told_once=("token",))

        return answer_write(request, perform, key_required=True)


class TokenOfPrincipalView(APIView):
    @describe(summary="Revoke somebody's token at once", tag=TAG, responses=None, status=204)
    def delete(self, request: Request, principal: uuid.UUID, token: uuid.UUID) -> Response:
        def perform() -> Answer:
            end_token_of(by=caller_of(request), principal_id=principal, token_id=token)
            return Answer(None, 204)

        return answer_write(request, perform)
