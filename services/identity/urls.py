"""Addresses of one's own tokens."""

from django.urls import URLPattern, URLResolver, path

from services.identity import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("access-tokens", api.AccessTokensView.as_view()),
    path("access-tokens/<uuid:token>", api.AccessTokenView.as_view()),
]
