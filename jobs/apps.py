"""Django's name for this app."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"

    def ready(self) -> None:
        from jobs import bulk_kinds, changes_told, refusals  # noqa: F401, PLC0415 - declarations, once models are loaded
