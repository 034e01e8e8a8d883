"""Django's name for this part of the service."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    name = "services.web"
    label = "web"
