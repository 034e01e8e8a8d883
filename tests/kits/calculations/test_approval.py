"""Who may approve an order of which worth. The rule is the shop's (common practice, no source)."""

from decimal import Decimal

import pytest

from kits.calculations.approval import EarlierOrder, Limit, judge, needs_a_person

STORES = Limit("stores", "EUR", Decimal(1000))


@pytest.mark.parametrize(("value", "allowed"), [("999.99", True), ("1000.00", True), ("1000.01", False)])
def test_an_order_worth_exactly_the_limit_may_be_approved(value, allowed):
    assert judge([STORES], "stores", "EUR", value=Decimal(value)).allowed is allowed


def test_a_role_without_limits_may_approve_everything():
    found = judge([STORES], "admin", "EUR", value=Decimal(10**6))
    assert found.allowed
    assert found.amount is None


def test_amounts_are_not_converted_so_another_currency_needs_its_own_limit():
    assert not judge([STORES], "stores", "NOK", value=Decimal(1)).allowed


def test_nothing_is_automatic_until_a_limit_is_set():
    assert not judge([STORES], "automatic", "EUR", value=Decimal(0)).allowed
    automatic = Limit("automatic", "EUR", Decimal(50))
    assert judge([STORES, automatic], "automatic", "EUR", value=Decimal(50)).allowed


def test_orders_within_the_window_add_up():
    week = Limit("stores", "EUR", Decimal(1000), window_days=7)
    earlier = [EarlierOrder(6, Decimal(400)), EarlierOrder(7, Decimal(900))]
    found = judge([week], "stores", "EUR", value=Decimal(600), earlier=earlier)
    assert found.total == 1000
    assert found.allowed
    assert not judge([week], "stores", "EUR", value=Decimal("600.01"), earlier=earlier).allowed
    assert judge([STORES], "stores", "EUR", value=Decimal(999), earlier=earlier).total == 999


@pytest.mark.parametrize(
    ("working", "reasons"),
    [
        ({}, []),
        ({"warnings": []}, []),
        ({"warnings": [{"code": "short-history"}, "stale-count"]}, ["short-history", "stale-count"]),
        ({"warnings": "short-history"}, ["short-history"]),
        ({"order_quantity": {"minimum_exceeds_cap": True}}, ["minimum-exceeds-shelf-life"]),
        ({"source": {"alternative": "Two are free at south."}}, ["could-be-borrowed"]),
        ({"order_quantity": {"minimum_exceeds_cap": False}, "source": {"alternative": ""}}, []),
    ],
)
def test_what_warns_needs_a_person(working, reasons):
    assert needs_a_person(working) == reasons
