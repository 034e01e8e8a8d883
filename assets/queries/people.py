"""Reading principals: administrators see them, everybody sees themselves."""

import uuid
from typing import Any

from django.db.models import QuerySet

from assets.access import require_anywhere
from services.identity.callers import Caller
from services.identity.models import Principal


def principals(*, by: Caller) -> QuerySet[Principal]:
    """Everybody, for who is an administrator somewhere. Raises `NotAllowed`."""
    require_anywhere(by, "admin")
    return Principal.objects.all()


def principal_row_of(principal_id: uuid.UUID) -> dict[str, Any]:
    """Login, name and kind of one principal."""
    row = Principal.objects.filter(pk=principal_id).values("id", "login", "name", "kind", "sees_availability").get()
    return dict(row)
