"""Loading files, by a worker."""

from celery import shared_task

from services.bulk_loads.operations import load_file
from services.work.claiming import take_up


@shared_task
def run_bulk_load(run_id: str) -> None:
    """Load one kept file; harmless when repeated."""
    take_up(run_id, load_file)
