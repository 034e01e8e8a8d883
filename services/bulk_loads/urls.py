"""Addresses of handing files in."""

from django.urls import URLPattern, URLResolver, path

from services.bulk_loads import api, api_mappings

urlpatterns: list[URLPattern | URLResolver] = [
    path("bulk-load-kinds", api.BulkLoadKindsView.as_view()),
    path("column-mappings", api_mappings.MappingsView.as_view()),
    path("column-mappings/propose", api_mappings.ProposeView.as_view()),
    path("column-mappings/<uuid:mapping>", api_mappings.MappingView.as_view()),
    path("bulk-loads", api.BulkLoadsView.as_view()),
    path("bulk-loads/<uuid:load>", api.BulkLoadView.as_view()),
    path("bulk-loads/<uuid:load>/rows", api.BulkLoadRowsView.as_view()),
]
