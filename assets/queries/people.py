"""Reading principals: administrators see them, everybody sees themselves."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import Q, QuerySet

from assets.access import require_anywhere, require_operator_wide
from assets.models import Grant
from services.api.refusals import NotThere
from services.identity.callers import Caller
from services.identity.models import AccessToken, Principal


def principals(*, by: Caller) -> QuerySet[Principal]:
    """Everybody, for who is an administrator somewhere. Raises `NotAllowed`."""
    require_anywhere(by, "admin")
    return Principal.objects.all()


def tokens_of(*, by: Caller, principal_id: uuid.UUID) -> QuerySet[AccessToken]:
    """Tokens of one principal, for administrators of the whole operator. Raises `NotAllowed`, `NotThere`."""
    require_operator_wide(by, "admin")
    if not Principal.objects.filter(pk=principal_id).exists():
        raise NotThere("The principal is not here.", remedy="GET /principals lists them.")
    return AccessToken.objects.filter(principal_id=principal_id)


def principal_row_of(principal_id: uuid.UUID) -> dict[str, Any]:
    """Login, name and kind of one principal."""
    row = Principal.objects.filter(pk=principal_id).values("id", "login", "name", "kind", "sees_availability").get()
    return dict(row)


def holds_role(principal_id: uuid.UUID, site_id: uuid.UUID, *roles: str) -> bool:
    """Whether an active principal has one of the roles at a site, or at every site. One query."""
    grants = Grant.objects.filter(
        Q(site_id=site_id) | Q(site=None), principal_id=principal_id, principal__is_active=True, role__in=roles
    )
    return grants.exists()


def names_of(principal_ids: Iterable[Any]) -> dict[str, str]:
    """Names of principals by id as text. One query, none where there is nobody to name."""
    wanted = list(principal_ids)
    if not wanted:
        return {}
    return {str(pk): name for pk, name in Principal.objects.filter(pk__in=wanted).values_list("pk", "name")}


def people_at(site_id: uuid.UUID, *roles: str) -> list[dict[str, Any]]:
    """Active people who have one of the roles at a site, or at every site: id and name, by name. One query."""
    grants = Grant.objects.filter(
        Q(site_id=site_id) | Q(site=None), principal__is_active=True, principal__kind="person", role__in=roles
    )
    rows = grants.order_by("principal__name").values_list("principal_id", "principal__name").distinct()
    return [{"id": pk, "name": name} for pk, name in rows]
