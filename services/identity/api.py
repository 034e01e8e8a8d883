"""One's own access tokens."""

import uuid
from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.refusals import ScopeMissing
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.api.writes import Answer, answer_write, created
from services.identity.callers import Caller, caller_of
from services.identity.models import SCOPES, AccessToken
from services.identity.tokens import issue_token, revoke_token

TAG = "People"


class AccessTokenRow(Rows):
    id = serializers.UUIDField()
    name = serializers.CharField()
    key_id = serializers.CharField()
    scopes = serializers.ListField(child=serializers.CharField())
    expires_at = serializers.DateTimeField()
    revoked_at = serializers.DateTimeField(allow_null=True)
    last_used_at = serializers.DateTimeField(allow_null=True)
    created_at = serializers.DateTimeField()


TOKEN_PAGE = page_of(AccessTokenRow)


class AccessTokenIn(Body):
    name = serializers.CharField(max_length=80)
    scopes = serializers.ListField(child=serializers.ChoiceField(choices=SCOPES), min_length=1)
    expires_at = serializers.DateTimeField(help_text="At most a year ahead.")


class NewToken(AccessTokenRow):
    computed = ("token",)
    token = serializers.CharField(
        required=False, help_text="Shown this once; keep it. It is kept nowhere here, so a replayed answer lacks it."
    )


TOKEN_EXAMPLE = {
    "id": "0199a0c4-0000-7000-8000-000000000061",
    "name": "phone",
    "key_id": "4f1c09ab27de",
    "scopes": ["read", "write"],
    "expires_at": "2027-06-30T00:00:00Z",
    "revoked_at": None,
    "last_used_at": None,
    "created_at": "2026-07-01T06:00:00Z",
}


def own_tokens(by: Caller) -> QuerySet[AccessToken]:
    """The caller's tokens."""
    return AccessToken.objects.filter(principal_id=by.id)


class AccessTokensView(ListView):
    rows = AccessTokenRow
    order = ("-id",)

    def rows_for(self, request: Request) -> Any:
        return own_tokens(caller_of(request))

    @describe(
        summary="List your tokens",
        tag=TAG,
        responses=TOKEN_PAGE,
        example={"results": [TOKEN_EXAMPLE], "next": None, "previous": None},
        operation_id="access_tokens_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Make a token for yourself",
        tag=TAG,
        request=AccessTokenIn,
        responses=NewToken,
        status=201,
        description="Its text is shown once. It can do no more than the request that makes it.",
        example=TOKEN_EXAMPLE | {"token": "bp_4f1c09ab27de_…"},
        request_example={"name": "phone", "scopes": ["read", "write"], "expires_at": "2027-06-30T00:00:00Z"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, AccessTokenIn)
        by = caller_of(request)
        beyond = sorted(set(body["scopes"]) - by.scopes)
        if beyond:
            raise ScopeMissing(
                f"You cannot hand on {', '.join(beyond)}: this request does not have it.",
                remedy="Sign in, or use a token that has the scope.",
                pointer="#/scopes",
                required_scope=beyond[0],
            )

        def perform() -> Answer:
            made, text = issue_token(
                principal_id=by.id, name=body["name"], scopes=body["scopes"], expires_at=body["expires_at"]
            )
            row = AccessTokenRow.select(own_tokens(by).filter(pk=made.pk)).get()
            return created(row | {"token": text}, f"/api/v1/access-tokens/{made.pk}", told_once=("token",))

        return answer_write(request, perform)


class AccessTokenView(APIView):
    @describe(summary="Revoke a token at once", tag=TAG, responses=None, status=204)
    def delete(self, request: Request, token: uuid.UUID) -> Response:
        def perform() -> Answer:
            revoke_token(principal_id=caller_of(request).id, token_id=token)
            return Answer(None, 204)

        return answer_write(request, perform)
