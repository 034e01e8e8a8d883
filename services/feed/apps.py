"""Django's name for this part of the service."""

from django.apps import AppConfig


class FeedConfig(AppConfig):
    name = "services.feed"
    label = "feed"

    def ready(self) -> None:
        from services.feed import refusals  # noqa: F401, PLC0415 - declarations, once models are loaded
