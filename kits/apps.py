"""Django's name for this app."""

from django.apps import AppConfig


class KitsConfig(AppConfig):
    name = "kits"
    label = "kits"
