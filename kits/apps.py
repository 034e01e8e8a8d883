"""Django's name for this app."""

from django.apps import AppConfig


class KitsConfig(AppConfig):
    name = "kits"
    label = "kits"

    def ready(self) -> None:
        # Declarations, once models are loaded.
        from kits import (  # noqa: F401, PLC0415
            bulk_kinds,
            changes_told,
            refusals,
            refusals_catalogue,
            refusals_counts,
            refusals_network,
            refusals_tables,
        )
