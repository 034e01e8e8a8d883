"""Django's name for this part of the service."""

from django.apps import AppConfig


class WorkConfig(AppConfig):
    name = "services.work"
    label = "work"

    def ready(self) -> None:
        from services.work import refusals  # noqa: F401, PLC0415 - declarations, once models are loaded
