"""Addresses of the pages of stores."""

from django.urls import URLPattern, URLResolver, path

from kits.pages import counts, network, proposals, stores_board

urlpatterns: list[URLPattern | URLResolver] = [
    path("", stores_board.stores_board, name="stores-board"),
    path("stores/proposals", proposals.proposals, name="proposals"),
    path("stores/proposals/<uuid:proposal>", proposals.proposal, name="proposal"),
    path("stores/proposals/<uuid:proposal>/approve", proposals.approve, name="approve-proposal"),
    path("stores/proposals/<uuid:proposal>/edit", proposals.edit, name="edit-proposal"),
    path("stores/proposals/<uuid:proposal>/reject", proposals.reject, name="reject-proposal"),
    path("stores/proposals/<uuid:proposal>/snooze", proposals.snooze, name="snooze-proposal"),
    path("stores/orders/<uuid:order>/receive", stores_board.receive, name="receive-order"),
    path("stores/orders/<uuid:order>/chase", stores_board.chase, name="chase-order"),
    path("stores/network", network.network, name="network"),
    path("stores/network/agree", network.agree, name="agree-transfer"),
    path("stores/counts", counts.open_sheets, name="counts"),
    path("stores/counts/make", counts.make, name="make-count"),
    path("stores/counts/<uuid:count>", counts.sheet, name="count"),
    path("stores/counts/<uuid:count>/enter", counts.enter, name="enter-count"),
    path("stores/counts/<uuid:count>/found", counts.found, name="found-in-count"),
    path("stores/counts/<uuid:count>/post", counts.post, name="post-count"),
    path("stores/counts/<uuid:count>/send-back", counts.send_back, name="send-back-count"),
    path("stores/counts/<uuid:count>/cancel", counts.cancel, name="cancel-count"),
]
