"""Django's name for this app."""

from django.apps import AppConfig


class AssetsConfig(AppConfig):
    name = "assets"
    label = "assets"
