"""Giving and withdrawing roles."""

import uuid
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide, require_role
from assets.models import Grant, Role
from assets.models.grants import OPERATOR_WIDE_ONLY
from assets.refusals import LastAdministrator
from services.api.refusals import InvalidValue, NotThere
from services.changes.recording import record_change
from services.identity.callers import Caller
from services.identity.people import principal_exists

ADMIN = "admin"


@transaction.atomic(savepoint=False)
def give_role(*, by: Caller, principal_id: uuid.UUID, role: str, site_id: uuid.UUID | None) -> Grant:
    """Give a role at a site, by an administrator there; operator-wide by one of the whole operator.

    The same grant again returns the first. Raises `NotThere`, `NotAllowed`, `InvalidValue`.
    """
    _gate(by, site_id)
    if role not in Role.values:
        raise InvalidValue(f"{role!r} is no role.", remedy=f"Known: {', '.join(Role.values)}.", pointer="#/role")
    if role in OPERATOR_WIDE_ONLY and site_id is not None:
        raise InvalidValue(
            f"The role {role} is given for the whole operator.", remedy="Leave the site out.", pointer="#/site"
        )
    if not principal_exists(principal_id):
        raise InvalidValue("There is no such principal.", remedy="GET /principals lists them.", pointer="#/principal")
    wanted: dict[str, Any] = {"principal_id": principal_id, "role": role, "site_id": site_id}
    grant, made = Grant.objects.get_or_create(**wanted)
    if made:
        _tell("grant.given", grant, by)
    return grant


@transaction.atomic(savepoint=False)
def withdraw_role(*, by: Caller, grant_id: uuid.UUID) -> None:
    """Take a role away. Raises `LastAdministrator` where nobody could grant roles any more."""
    grant = Grant.objects.select_for_update().filter(pk=grant_id).first()
    if grant is None:
        raise NotThere("The grant is not here.", remedy="Check the id.")
    _gate(by, grant.site_id)
    if grant.role == Role.ADMIN and grant.site_id is None:
        others = Grant.objects.filter(role=Role.ADMIN, site__isnull=True).exclude(pk=grant.pk)
        if not others.exists():
            raise LastAdministrator(
                "This is the only administrator of the whole operator.",
                remedy="Give the role admin to somebody else first.",
            )
    _tell("grant.withdrawn", grant, by)
    grant.delete()


def _gate(by: Caller, site_id: uuid.UUID | None) -> None:
    if site_id is None:
        require_operator_wide(by, ADMIN)
    else:
        require_role(by, site_id, ADMIN, what="The site")


def _tell(kind: str, grant: Grant, by: Caller) -> None:
    record_change(
        kind,
        noun="grant",
        noun_id=grant.pk,
        version=grant.version,
        site_id=grant.site_id,
        by=by,
        body={"principal": grant.principal_id, "role": grant.role},
    )
