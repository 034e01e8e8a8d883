"""Addresses for whoever runs the service."""

from django.urls import URLPattern, URLResolver, path

from services.observability.health import healthz, readyz
from services.observability.metrics import metrics

urlpatterns: list[URLPattern | URLResolver] = [
    path("healthz", healthz, name="healthz"),
    path("readyz", readyz, name="readyz"),
    path("metrics", metrics, name="metrics"),
]
