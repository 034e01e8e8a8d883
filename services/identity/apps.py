"""Who is calling."""

from django.apps import AppConfig


class IdentityConfig(AppConfig):
    name = "services.identity"
    label = "identity"
