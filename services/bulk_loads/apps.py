"""Django's name for this part of the service."""

from django.apps import AppConfig


class BulkLoadsConfig(AppConfig):
    name = "services.bulk_loads"
    label = "bulk_loads"
