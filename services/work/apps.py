"""Django's name for this part of the service."""

from django.apps import AppConfig


class WorkConfig(AppConfig):
    name = "services.work"
    label = "work"
