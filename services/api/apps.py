"""The ground: conventions of the API."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    name = "services.api"
    label = "api"
