"""Roles that positions have in a pump. The data owner keeps them."""

from assets.models import PositionRole
from assets.operations.table_rows import Table

POSITION_ROLES = Table(
    PositionRole, "position-role", "The position role", lambda one: {"code": one.code, "name": one.name}
)
