"""Django's name for the worker; loading it binds tasks to the Celery application."""

from django.apps import AppConfig

from services.worker import celery_app


class WorkerConfig(AppConfig):
    name = "services.worker"
    label = "worker"
    celery = celery_app.app
