"""Looking people up by login."""

import uuid
from collections.abc import Iterable

from services.identity.models import Principal


def principals_by_login(logins: Iterable[str]) -> dict[str, uuid.UUID]:
    """Ids of active principals by login, in one query."""
    return dict(Principal.objects.filter(login__in=set(logins), is_active=True).values_list("login", "id"))


def is_person(principal_id: uuid.UUID) -> bool:
    """Whether this is a person and no service."""
    return Principal.objects.filter(pk=principal_id, kind=Principal.Kind.PERSON).exists()


def principal_exists(principal_id: uuid.UUID) -> bool:
    """Whether there is an active principal with this id."""
    return Principal.objects.filter(pk=principal_id, is_active=True).exists()


def name_of(principal_id: uuid.UUID) -> str:
    """The name of a principal; empty where there is none."""
    return Principal.objects.filter(pk=principal_id).values_list("name", flat=True).first() or ""
