"""Django's name for this part of the service."""

from django.apps import AppConfig


class FeedConfig(AppConfig):
    name = "services.feed"
    label = "feed"
