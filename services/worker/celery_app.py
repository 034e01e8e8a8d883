"""The Celery application: it only carries kicks; what is to be done stands in the database."""

import os

from celery import Celery
from django.conf import settings

from services.worker.schedule import SCHEDULE

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "services.settings.production")

app = Celery("backpull")
app.conf.update(
    broker_url=settings.CELERY_BROKER_URL,
    result_backend=None,
    task_ignore_result=True,
    task_serializer="json",
    accept_content=["json"],
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    task_time_limit=300,
    task_soft_time_limit=270,
    worker_soft_shutdown_timeout=10,
    worker_max_tasks_per_child=500,
    broker_connection_retry_on_startup=True,
    broker_transport_options={
        "visibility_timeout": 600,
        "unacked_restore_interval": 10,
        "unacked_restore_throttle": 1,
        "socket_timeout": 5,
        "socket_connect_timeout": 1,
    },
    worker_hijack_root_logger=False,
    timezone="UTC",
    beat_schedule=SCHEDULE,
    beat_schedule_filename=os.environ.get("BEAT_SCHEDULE_FILE", "celerybeat-schedule"),
)
app.autodiscover_tasks(["kits", "jobs", "services.worker", "services.bulk_loads", "services.feed"])
