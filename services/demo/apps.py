"""Django's name for this part of the service."""

from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "services.demo"
    label = "demo"
