"""The trade's tables that assets need, put in where they are missing; what the data owner changed stays."""

from django.db import transaction

import assets
from assets.models import FluidFamily, PositionRole
from services.api.trade_tables import read_trade_table


@transaction.atomic(savepoint=False)
def load_trade_tables() -> dict[str, int]:
    """Insert missing position roles and fluid families; how many rows of each were new. For the installer only."""
    roles = set(PositionRole.objects.values_list("code", flat=True))
    fresh_roles = [
        PositionRole(code=row["code"], name=row["name"], source=row["source"])
        for row in read_trade_table(assets.__file__, "position_roles")
        if row["code"] not in roles
    ]
    PositionRole.objects.bulk_create(fresh_roles)
    families = set(FluidFamily.objects.values_list("code", flat=True))
    fresh_families = [
        FluidFamily(
            code=row["code"],
            name=row["name"],
            is_water=row["is_water"] == "yes",
            note=row["note"],
            source=row["source"],
        )
        for row in read_trade_table(assets.__file__, "fluid_families")
        if row["code"] not in families
    ]
    FluidFamily.objects.bulk_create(fresh_families)
    return {"position roles": len(fresh_roles), "fluid families": len(fresh_families)}
