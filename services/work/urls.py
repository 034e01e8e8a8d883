"""Addresses of background work."""

from django.urls import URLPattern, URLResolver, path

from services.work import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("background-runs", api.BackgroundRunsView.as_view()),
    path("background-runs/<uuid:run>", api.BackgroundRunView.as_view()),
    path("background-runs/<uuid:run>/cancel", api.CancelRunView.as_view()),
]
