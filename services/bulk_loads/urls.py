"""Addresses of handing files in."""

from django.urls import URLPattern, URLResolver, path

from services.bulk_loads import api

urlpatterns: list[URLPattern | URLResolver] = [
    path("bulk-load-kinds", api.BulkLoadKindsView.as_view()),
    path("bulk-loads", api.BulkLoadsView.as_view()),
    path("bulk-loads/<uuid:load>", api.BulkLoadView.as_view()),
    path("bulk-loads/<uuid:load>/rows", api.BulkLoadRowsView.as_view()),
]
