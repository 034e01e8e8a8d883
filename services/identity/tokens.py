"""Making and checking access tokens: ``bp_<key id>_<secret>``."""

import hashlib
import hmac
import secrets
import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from services.api.refusals import InvalidValue, NotThere
from services.identity.models import SCOPES, AccessToken

PREFIX = "bp"
LONGEST_LIFE = timedelta(days=366)


def digest_of(secret: str) -> bytes:
    """SHA-256 of a 256-bit random secret; a slow hash would add nothing to such a key."""
    return hashlib.sha256(secret.encode()).digest()


@transaction.atomic(savepoint=False)
def issue_token(
    *, principal_id: uuid.UUID, name: str, scopes: Iterable[str], expires_at: datetime
) -> tuple[AccessToken, str]:
    """A new token and its text, which is never shown again. Raises `InvalidValue`."""
    wanted = sorted(set(scopes))
    unknown = [one for one in wanted if one not in SCOPES]
    if unknown or not wanted:
        raise InvalidValue(
            f"Scopes {unknown or wanted} are not known.", remedy=f"Choose from {', '.join(SCOPES)}.", pointer="#/scopes"
        )
    now = timezone.now()
    if not now < expires_at <= now + LONGEST_LIFE:
        raise InvalidValue(
            "A token must expire within a year, and not before it begins.",
            remedy="Give an expires_at in the next 366 days.",
            pointer="#/expires_at",
        )
    key_id, secret = secrets.token_hex(6), secrets.token_urlsafe(32).replace("_", "-")
    token = AccessToken.objects.create(
        principal_id=principal_id,
        name=name,
        key_id=key_id,
        digest=digest_of(secret),
        scopes=wanted,
        expires_at=expires_at,
    )
    return token, f"{PREFIX}_{key_id}_{secret}"


@transaction.atomic(savepoint=False)
def revoke_token(*, principal_id: uuid.UUID, token_id: uuid.UUID) -> None:
    """End a token of this principal at once. Raises `NotThere`."""
    ended = AccessToken.objects.filter(pk=token_id, principal_id=principal_id, revoked_at=None).update(
        revoked_at=timezone.now()
    )
    if not ended:
        raise NotThere("No such live token.", remedy="List your tokens.")


def check_token(text: str) -> AccessToken | None:
    """The live token of this text with its active principal, or None. Notes the use at most once a minute."""
    parts = text.split("_")
    if len(parts) != 3 or parts[0] != PREFIX:
        return None
    now = timezone.now()
    token = AccessToken.objects.select_related("principal").filter(key_id=parts[1]).first()
    if token is None or not hmac.compare_digest(bytes(token.digest), digest_of(parts[2])):
        return None
    if token.revoked_at or token.expires_at <= now or not token.principal.is_active:
        return None
    if token.last_used_at is None or now - token.last_used_at > timedelta(minutes=1):
        AccessToken.objects.filter(pk=token.pk).filter(
            Q(last_used_at=None) | Q(last_used_at__lt=now - timedelta(minutes=1))
        ).update(last_used_at=now)
    return token
