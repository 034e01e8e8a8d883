"""Which jobs the clock looks at again."""

import uuid

from jobs.models import Job


def live_jobs_before_start() -> list[uuid.UUID]:
    """Jobs planned or ready, by day."""
    return list(
        Job.objects.filter(state__in=["planned", "ready"]).order_by("planned_start", "id").values_list("id", flat=True)
    )
