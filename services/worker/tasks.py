"""Housekeeping that no app owns."""

from datetime import timedelta

from celery import shared_task
from django.utils import timezone

from services.api.models import IdempotencyKey
from services.work.claiming import due_runs
from services.work.recording import kick

KEYS_KEPT = timedelta(days=7)


@shared_task
def sweep() -> None:
    """Kick whatever is recorded, due and not being done: its own kick was lost, or its worker died."""
    for kind, run_id in due_runs():
        kick(kind, run_id)


@shared_task
def clear_retry_keys() -> None:
    """Forget retry keys after their retention."""
    IdempotencyKey.objects.filter(created_at__lt=timezone.now() - KEYS_KEPT).delete()
