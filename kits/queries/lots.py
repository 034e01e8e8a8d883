"""Reading lots. A lot is known at the sites where it lies or has lain."""

import uuid
from collections.abc import Iterable
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from assets.access import narrow, require_anywhere, sites_with
from kits.models import Lot, Movement
from services.api.refusals import NotAllowed, NotThere
from services.identity.callers import Caller


def lots(*, by: Caller) -> QuerySet[Lot]:
    """Lots that moved at granted sites."""
    if sites_with(by) is None:
        return Lot.objects.all()
    moved = narrow(Movement.objects.filter(lot_id=OuterRef("pk")), by)
    return Lot.objects.filter(Exists(moved))


def lot_for(by: Caller, lot_id: Any, *roles: str) -> Lot:
    """One lot, where the caller has one of the roles at a site where it moved. Raises `NotThere`, `NotAllowed`."""
    lot = lots(by=by).filter(pk=lot_id).first()
    if lot is None:
        raise NotThere("The lot is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_anywhere(by, *roles)
        held = sites_with(by, *roles)
        if held is not None and not Movement.objects.filter(lot_id=lot.pk, site_id__in=held).exists():
            raise NotAllowed(
                f"Lot {lot.number} lies at no site where you have the role {' or '.join(roles)}.",
                remedy="Ask somebody with that role.",
                required_roles=list(roles),
            )
    return lot


def numbers_of_lots(lot_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, str]:
    """Numbers of lots by id. One query; for whoever has passed the gate already."""
    return dict(Lot.objects.filter(pk__in=list(lot_ids)).values_list("id", "number"))
