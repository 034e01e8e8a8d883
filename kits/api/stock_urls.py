"""Addresses of what is stocked and ordered."""

from django.urls import path

from kits.api import (
    kit_building,
    orders,
    proposals,
    reservations,
    stock_balances,
    stock_movements,
    stock_projection,
    transfers,
)

urlpatterns = [
    path("stock-balances", stock_balances.StockBalancesView.as_view()),
    path("stock-availability", stock_balances.StockAvailabilityView.as_view()),
    path("stock-movements", stock_movements.StockMovementsView.as_view()),
    path("stock-movements/<uuid:movement>", stock_movements.StockMovementView.as_view()),
    path("stock-movements/<uuid:movement>/reverse", stock_movements.ReverseMovementView.as_view()),
    path("kits/<uuid:kit>/buildable", kit_building.BuildableKitsView.as_view()),
    path("sites/<uuid:site>/items/<uuid:item>/projection", stock_projection.StockProjectionView.as_view()),
    path("sites/<uuid:site>/items/<uuid:item>/promise", stock_projection.PromiseDateView.as_view()),
    path("kit-builds", kit_building.KitBuildsView.as_view()),
    path("kit-breaks", kit_building.KitBreaksView.as_view()),
    path("reservations", reservations.ReservationsView.as_view()),
    path("lots", reservations.LotsView.as_view()),
    path("lots/<uuid:lot>", reservations.LotView.as_view()),
    path("lots/<uuid:lot>/extend", reservations.ExtendLotView.as_view()),
    path("orders", orders.OrdersView.as_view()),
    path("orders/<uuid:order>", orders.OrderView.as_view()),
    path("orders/<uuid:order>/send", orders.SendOrderView.as_view()),
    path("orders/<uuid:order>/receive", orders.ReceiveOrderView.as_view()),
    path("orders/<uuid:order>/close-short", orders.CloseShortView.as_view()),
    path("orders/<uuid:order>/cancel", orders.CancelOrderView.as_view()),
    path("transfers", transfers.TransfersView.as_view()),
    path("transfers/<uuid:transfer>", transfers.TransferView.as_view()),
    path("transfers/<uuid:transfer>/send", transfers.SendTransferView.as_view()),
    path("transfers/<uuid:transfer>/receive", transfers.ReceiveTransferView.as_view()),
    path("transfers/<uuid:transfer>/close-short", transfers.CloseTransferShortView.as_view()),
    path("transfers/<uuid:transfer>/cancel", transfers.CancelTransferView.as_view()),
    path("replenishment-proposals", proposals.ProposalsView.as_view()),
    path("replenishment-proposals/<uuid:proposal>", proposals.ProposalView.as_view()),
    path("replenishment-proposals/<uuid:proposal>/approve", proposals.ApproveView.as_view()),
    path("replenishment-proposals/<uuid:proposal>/reject", proposals.RejectView.as_view()),
    path("replenishment-proposals/<uuid:proposal>/snooze", proposals.SnoozeView.as_view()),
    path("replenishment-runs", proposals.ReplenishmentRunsView.as_view()),
]
