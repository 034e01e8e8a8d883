"""Address of the change feed."""

from django.urls import URLPattern, URLResolver, path

from services.feed import api

urlpatterns: list[URLPattern | URLResolver] = [path("changes", api.ChangesView.as_view())]
