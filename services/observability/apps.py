"""Django's name for this part of the service."""

from django.apps import AppConfig


class ObservabilityConfig(AppConfig):
    name = "services.observability"
    label = "observability"
