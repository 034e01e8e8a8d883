"""The gate: which sites and roles a caller has. Every query and operation passes here first.

A site without any grant does not exist for the caller (`NotThere`); a site with the wrong role is known, so the answer
is `NotAllowed`. The grants are read once a request.
"""

import uuid
from collections.abc import Iterable
from typing import Any, TypeVar

from django.db.models import Model, Q, QuerySet

from assets.models import Grant, Role
from services.api.refusals import NotAllowed, NotThere
from services.identity.callers import Caller

M = TypeVar("M", bound=Model)
EVERY_ROLE = tuple(Role)


def _grants(by: Caller) -> dict[str, set[uuid.UUID | None]]:
    """Sites by role; None among them stands for the whole operator."""
    kept = by.memo.get("grants")
    if kept is None:
        kept = {}
        for role, site_id in Grant.objects.filter(principal_id=by.id).values_list("role", "site_id"):
            kept.setdefault(role, set()).add(site_id)
        by.memo["grants"] = kept
    return kept


def sites_with(by: Caller, *roles: str) -> set[uuid.UUID] | None:
    """Ids of the sites where the caller has one of the roles (any role if none is named); None means all sites."""
    found: set[uuid.UUID | None] = set()
    for role, sites in _grants(by).items():
        if role in (Role.DATA_OWNER, Role.PROCEDURE_AUTHOR):
            if roles and role in roles:
                return None
            continue
        if not roles or role in roles:
            found |= sites
    return None if None in found else {one for one in found if one is not None}


def narrow(queryset: QuerySet[M], by: Caller, *roles: str, path: str = "site_id") -> QuerySet[M]:
    """The rows at the caller's sites. ``path`` leads to the site's id."""
    sites = sites_with(by, *roles)
    return queryset if sites is None else queryset.filter(Q(**{f"{path}__in": sites}))


def has_role(by: Caller, site_id: uuid.UUID | None, *roles: str) -> bool:
    """Whether the caller has one of the roles at the site (None: at the whole operator)."""
    sites = sites_with(by, *roles)
    return sites is None or (site_id is not None and site_id in sites)


def require_role(by: Caller, site_id: uuid.UUID, *roles: str, what: str = "It") -> None:
    """Raises `NotThere` where the caller has no role at the site at all, `NotAllowed` where not one of these."""
    if has_role(by, site_id, *roles):
        return
    if not has_role(by, site_id):
        raise NotThere(f"{what} is not here.", remedy="Check the id, or ask for a role at its site.")
    raise NotAllowed(
        f"This needs the role {_list(roles)} at the site.",
        remedy="Ask somebody with that role, or an administrator for the grant.",
        required_roles=list(roles),
    )


def require_anywhere(by: Caller, *roles: str) -> None:
    """Raises `NotAllowed` unless the caller has one of the roles at some site or operator-wide."""
    sites = sites_with(by, *roles)
    if sites is not None and not sites:
        raise NotAllowed(
            f"This needs the role {_list(roles)}.",
            remedy="Ask somebody with that role, or an administrator for the grant.",
            required_roles=list(roles),
        )


def require_operator_wide(by: Caller, *roles: str) -> None:
    """Raises `NotAllowed` unless one of the roles is held for the whole operator."""
    if sites_with(by, *roles) is not None:
        raise NotAllowed(
            f"This needs the role {_list(roles)} for the whole operator.",
            remedy="Ask somebody with that role, or an administrator for the grant.",
            required_roles=list(roles),
        )


def roles_at(by: Caller, site_id: uuid.UUID) -> list[str]:
    """The caller's roles at a site, sorted."""
    return sorted(role for role, sites in _grants(by).items() if None in sites or site_id in sites)


def grants_as_rows(by: Caller) -> list[dict[str, Any]]:
    """The caller's own grants, for a page that shows them."""
    return [
        {"role": role, "site": site}
        for role, sites in sorted(_grants(by).items())
        for site in sorted(sites, key=lambda one: str(one or ""))
    ]


def _list(roles: Iterable[str]) -> str:
    return " or ".join(str(one) for one in roles)
