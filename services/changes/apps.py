"""Django's name for this part of the service."""

from django.apps import AppConfig


class ChangesConfig(AppConfig):
    name = "services.changes"
    label = "changes"
