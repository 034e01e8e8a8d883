"""Making principals known and changing them, by administrators of the whole operator."""

import uuid
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.models import Grant, Role
from services.api.refusals import InvalidValue, NotAllowed, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller
from services.identity.models import Principal

SHORTEST_PASSWORD = 10


@transaction.atomic(savepoint=False)
def register_first_administrator(*, login: str, name: str, password: str = "") -> Principal:
    """The person from whom all other grants come; for commands at the machine, never for the API.

    Raises `NotAllowed` once somebody administers the whole operator.
    """
    if Grant.objects.filter(role=Role.ADMIN, site__isnull=True).exists():
        raise NotAllowed("The whole operator has an administrator.", remedy="Ask them to register the person.")
    made = Principal(login=login.strip(), name=name)
    _set_password(made, password)
    made.save(force_insert=True)
    Grant.objects.create(principal=made, role=Role.ADMIN)
    _tell("principal.registered", made, None)
    return made


@transaction.atomic(savepoint=False)
def register_principal(
    *,
    by: Caller,
    login: str,
    name: str,
    kind: str = "person",
    password: str = "",
    sees_availability: bool = False,
    principal_id: uuid.UUID | None = None,
) -> Principal:
    """A person, who may get a password for the pages, or a service, which has none. Raises `InvalidValue`."""
    require_operator_wide(by, "admin")
    made = Principal(
        login=login.strip(),
        name=name,
        kind=kind,
        sees_availability=sees_availability,
        **({"id": principal_id} if principal_id else {}),
    )
    _set_password(made, password)
    made.save(force_insert=True)
    _tell("principal.registered", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_principal(*, by: Caller, principal_id: uuid.UUID, expected_version: int, **changes: Any) -> Principal:
    """Change name, password, whether it is active, or whether it sees availability everywhere.

    Raises `NotThere`, `VersionChanged`, `InvalidValue`.
    """
    require_operator_wide(by, "admin")
    made = Principal.objects.select_for_update(no_key=True).filter(pk=principal_id).first()
    if made is None:
        raise NotThere("The principal is not here.", remedy="GET /principals lists them.")
    if made.version != expected_version:
        raise version_changed("The principal", made.version)
    if changes.get("is_active") is False and principal_id == by.id:
        raise InvalidValue("You cannot put yourself out.", remedy="Ask another administrator.", pointer="#/is_active")
    if "password" in changes:
        _set_password(made, changes.pop("password"))
    for field, value in changes.items():
        setattr(made, field, value)
    made.save()
    made.refresh_from_db()
    _tell("principal.changed", made, by)
    return made


def _set_password(made: Principal, password: str) -> None:
    if not password or made.kind == "service":
        if password:
            raise InvalidValue("A service has no password.", remedy="Make a token for it.", pointer="#/password")
        made.set_unusable_password()
        return
    if len(password) < SHORTEST_PASSWORD:
        raise InvalidValue(
            f"The password is shorter than {SHORTEST_PASSWORD} characters.",
            remedy="Take a longer one; three words do well.",
            pointer="#/password",
        )
    made.set_password(password)


def _tell(kind: str, made: Principal, by: Caller | None) -> None:
    record_change(
        kind,
        noun="principal",
        noun_id=made.pk,
        version=made.version,
        by=by,
        body={"login": made.login, "name": made.name, "is_active": made.is_active},
    )
