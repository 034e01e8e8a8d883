"""Django's name for this part of the service."""

from django.apps import AppConfig


class BulkLoadsConfig(AppConfig):
    name = "services.bulk_loads"
    label = "bulk_loads"

    def ready(self) -> None:
        from services.bulk_loads import changes_told, refusals  # noqa: F401, PLC0415 - declarations, once models are loaded
