"""Tokens that administrators make for services, and end for anybody."""

import uuid
from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from assets.access import require_operator_wide
from services.api.refusals import InvalidValue, NotThere
from services.changes.recording import record_change
from services.identity.callers import Caller
from services.identity.models import AccessToken, Principal
from services.identity.tokens import issue_token, revoke_token


@transaction.atomic(savepoint=False)
def make_service_token(
    *, by: Caller, principal_id: uuid.UUID, name: str, scopes: Iterable[str], expires_at: datetime
) -> tuple[AccessToken, str]:
    """A token of a service, and its text, by an administrator of the whole operator: a service cannot sign in.

    People make their own. Raises `NotAllowed`, `NotThere`, `InvalidValue`.
    """
    require_operator_wide(by, "admin")
    service = Principal.objects.filter(pk=principal_id).first()
    if service is None:
        raise NotThere("The principal is not here.", remedy="GET /principals lists them.")
    if service.kind != Principal.Kind.SERVICE or not service.is_active:
        raise InvalidValue(
            "Only an active service gets its tokens from an administrator.",
            remedy="People sign in and make their own; a service that was put out is changed first.",
        )
    token, text = issue_token(principal_id=principal_id, name=name, scopes=scopes, expires_at=expires_at)
    _tell("access-token.made", token, by)
    return token, text


@transaction.atomic(savepoint=False)
def end_token_of(*, by: Caller, principal_id: uuid.UUID, token_id: uuid.UUID) -> None:
    """Revoke somebody's token at once, such as that of a lost phone. Raises `NotAllowed`, `NotThere`."""
    require_operator_wide(by, "admin")
    revoke_token(principal_id=principal_id, token_id=token_id)
    _tell("access-token.revoked", AccessToken.objects.get(pk=token_id), by)


def _tell(kind: str, token: AccessToken, by: Caller) -> None:
    record_change(
        kind,
        noun="access-token",
        noun_id=token.pk,
        version=token.version,
        by=by,
        body={"principal": token.principal_id, "name": token.name, "scopes": token.scopes},
    )
