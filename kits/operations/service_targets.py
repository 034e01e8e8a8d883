"""How well stock shall serve, by criticality. The data owner keeps it."""

from assets.operations.table_rows import Table
from kits.models import ServiceTarget

TARGETS = Table(
    ServiceTarget,
    "service-target",
    "The target",
    lambda one: {
        "criticality": one.criticality,
        "fill_rate": one.fill_rate,
        "measure": one.measure,
        "source": one.source,
    },
)
