"""Django's name for this app."""

from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "jobs"
    label = "jobs"
