"""Scopes of kits: named sets of position roles. The data owner keeps them."""

import uuid
from collections.abc import Callable, Sequence
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.access import require_operator_wide
from assets.operations.table_rows import OWNERS, Table, add_row, change_row
from assets.queries.pump_models import position_role_ids
from kits.models import KitScope, KitScopeRole
from services.api.refusals import InvalidValue
from services.identity.callers import Caller

SCOPES = Table(
    KitScope,
    "kit-scope",
    "The scope",
    lambda one: {
        "code": one.code,
        "name": one.name,
        "roles": sorted(one.roles.values_list("code", flat=True)),
    },
)


@transaction.atomic(savepoint=False)
def add_scope(*, by: Caller, roles: Sequence[str], row_id: uuid.UUID | None = None, **fields: Any) -> KitScope:
    """A scope with its roles. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    return add_row(SCOPES, by=by, row_id=row_id, then=_holds(roles), **fields)


@transaction.atomic(savepoint=False)
def change_scope(
    *, by: Caller, row_id: uuid.UUID, expected_version: int, roles: Sequence[str] | None = None, **fields: Any
) -> KitScope:
    """Another name or other roles; fits of kits of this scope are computed again."""
    require_operator_wide(by, *OWNERS)
    if roles is None:
        return change_row(SCOPES, by=by, row_id=row_id, expected_version=expected_version, **fields)
    # The roles lie in another table: touching the scope's time lets its trigger count the version up.
    return change_row(
        SCOPES,
        by=by,
        row_id=row_id,
        expected_version=expected_version,
        then=_holds(roles),
        updated_at=timezone.now(),
        **fields,
    )


def _holds(roles: Sequence[str]) -> Callable[[KitScope], None]:
    """What gives a scope exactly these roles. Raises `InvalidValue` for one that is not known, or none at all."""
    known = position_role_ids()
    missing = sorted(set(roles) - known.keys())
    if missing or not roles:
        raise InvalidValue(
            f"{', '.join(missing)} is no position role." if missing else "The scope has no roles.",
            remedy=f"Known: {', '.join(sorted(known))}.",
            pointer="#/roles",
        )
    wanted = {known[one] for one in roles}

    def give(scope: KitScope) -> None:
        of_scope = KitScopeRole.objects.filter(kitscope=scope)
        here = set(of_scope.values_list("positionrole_id", flat=True))
        if here - wanted:
            of_scope.filter(positionrole_id__in=here - wanted).delete()
        KitScopeRole.objects.bulk_create(
            [KitScopeRole(kitscope=scope, positionrole_id=one) for one in sorted(wanted - here)]
        )

    return give
