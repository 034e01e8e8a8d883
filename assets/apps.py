"""Django's name for this app."""

from django.apps import AppConfig


class AssetsConfig(AppConfig):
    name = "assets"
    label = "assets"

    def ready(self) -> None:
        from assets import bulk_kinds, changes_told, refusals  # noqa: F401, PLC0415 - declarations, once models are loaded
