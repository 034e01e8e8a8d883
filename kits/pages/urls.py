"""Addresses of the pages of stores."""

from django.urls import URLPattern, URLResolver, path

from kits.pages import stores_board

urlpatterns: list[URLPattern | URLResolver] = [
    path("", stores_board.stores_board, name="stores-board"),
    path("stores/proposals/<uuid:proposal>/approve", stores_board.approve, name="approve-proposal"),
    path("stores/proposals/<uuid:proposal>/reject", stores_board.reject, name="reject-proposal"),
    path("stores/orders/<uuid:order>/receive", stores_board.receive, name="receive-order"),
]
