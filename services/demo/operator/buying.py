"""Terms of the suppliers, and orders that are on their way or came lately."""

import random
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from services.demo.operator.days import Days
from services.demo.operator.kits import FITTING, FITTING_REVISION, KitRow
from services.demo.operator.parts import Catalogue
from services.demo.operator.places import CENTRAL
from services.demo.operator.stock import STORY_ORDER, Event
from services.demo.operator.stock_plan import STORY_SITE

KIT_SUPPLIER = "ollvard"
# Category of a part: who sells it, lead time and its spread in days, minimum, multiple.
BY_CATEGORY = {
    "o-ring": ("sealmoor", 14, 4, 10, 10), "mechanical-seal": ("sealmoor", 28, 7, 1, 1),
    "lip-seal": ("sealmoor", 14, 4, 2, 2), "packing": ("sealmoor", 21, 5, 10, 10),
    "flat-gasket": ("sealmoor", 21, 5, 5, 5), "rolling-bearing": ("varnick", 10, 3, 2, 2),
    "circlip": ("varnick", 10, 3, 10, 10), "fastener": ("varnick", 7, 2, 25, 25), "key": ("fennsmith", 14, 4, 1, 1),
    "sleeve": ("fennsmith", 35, 10, 1, 1), "wear-ring": ("fennsmith", 35, 10, 1, 1),
}  # fmt: skip
OTHER_PARTS = ("ollvard", 35, 9, 1, 1)
STORY_TERMS = (42, 9, 2, 2, "120")
# Bearings and seals that a second supplier sells as well, quicker and dearer.
SECOND_SUPPLIER = ("rolling-bearing", "ollvard", 5, 2, Decimal("1.22"))
COMMA_PRICE_KIT = "FK-P80-E"
STORY_EXPECTED_IN = 40

TERM_COLUMNS = "supplier,item,revision,lead_time_days,lead_time_sd_days,minimum,multiple,price,currency,order_cost"
ORDER_COLUMNS = "number,site,supplier,item,revision,quantity,received,expected_on,price,currency,state"
# number, site, kit, quantity, expected in days, state. Two are late.
ON_THE_WAY = (
    ("FO-1039", "tarn-waterworks", "FK-G150-N", 2, -6, "sent"),
    ("FO-1041", CENTRAL, "FK-C40-E", 4, 9, "sent"),
    ("FO-1042", "holm-waterworks", "FK-C65-E", 2, -2, "sent"),
    ("FO-1044", "dairy", "FK-C32-N", 2, 17, "sent"),
    ("FO-1045", CENTRAL, "FK-K80-SE", 4, 21, "sent"),
    ("FO-1048", "fish-hall", "FK-P65-E", 2, 33, "approved"),
    ("FO-1049", CENTRAL, "FK-G200-P", 2, 45, "approved"),
)
# The latest deliveries of kits of which the orders are kept, by number.
DELIVERED = ("FO-1031", "FO-1032", "FO-1034", "FO-1036")


def kit_price(kit: KitRow) -> Decimal:
    """What the supplier asks for a packed kit: a little less than its parts one by one."""
    return (kit.cost * Decimal("0.94")).quantize(Decimal("0.10"))


def term_rows(kits: Sequence[KitRow], parts: Catalogue) -> list[tuple[Any, ...]]:
    """Rows of the file of terms: every kit and every part that has not been replaced."""
    chance = random.Random(42)
    found: list[tuple[Any, ...]] = []
    for kit in kits:
        lead, spread, cost = chance.randint(28, 56), chance.randint(5, 14), chance.choice(("60", "80", "120"))
        minimum = multiple = chance.choice((1, 2))
        if kit.number == FITTING:
            lead, spread, minimum, multiple, cost = STORY_TERMS
        price = f"{kit_price(kit):.2f}"
        if kit.number == COMMA_PRICE_KIT:
            price = price.replace(".", ",")
        found.append((KIT_SUPPLIER, kit.number, kit.revision, lead, spread, minimum, multiple, price, "EUR", cost))
    replaced = {one.old for one in parts.replaced}
    for part in parts.parts.values():
        if part.number in replaced:
            continue
        supplier, lead, spread, minimum, multiple = BY_CATEGORY.get(part.category, OTHER_PARTS)
        found.append((supplier, part.number, "", lead, spread, minimum, multiple, part.cost, "EUR", "25"))
        category, second, quick, steady, dearer = SECOND_SUPPLIER
        if part.category == category:
            price = f"{(part.cost * dearer):.2f}"
            found.append((second, part.number, "", quick, steady, 1, 1, price, "EUR", "25"))
    return found


def order_rows(days: Days, kits: Sequence[KitRow], events: Sequence[Event]) -> list[tuple[Any, ...]]:
    """Rows of the file of orders. What an order has received stands among the movements."""
    by_number = {one.number: one for one in kits}
    found: list[tuple[Any, ...]] = []
    receipts = [
        one for one in events if one.kind == "receipt" and one.lot.item.revision and one.lot.item.number != FITTING
    ]
    for number, event in zip(DELIVERED, receipts[-len(DELIVERED) :], strict=True):
        event.reason = f"Order {number}"
        kit = by_number[event.lot.item.number]
        found.append(
            (number, event.site, KIT_SUPPLIER, kit.number, kit.revision, event.quantity, event.quantity,
             event.day.isoformat(), f"{kit_price(kit):.2f}", "EUR", "received")
        )  # fmt: skip
    for number, site, item, quantity, expected_in, state in ON_THE_WAY:
        kit = by_number[item]
        found.append(
            (number, site, KIT_SUPPLIER, kit.number, kit.revision, quantity, 0, days.off(expected_in).isoformat(),
             f"{kit_price(kit):.2f}", "EUR", state)
        )  # fmt: skip
    price = f"{kit_price(by_number[FITTING]):.2f}"
    expected = days.off(STORY_EXPECTED_IN).isoformat()
    found.append((STORY_ORDER, STORY_SITE, KIT_SUPPLIER, FITTING, FITTING_REVISION, 2, 1, expected, price, "EUR",
                  "part-received"))  # fmt: skip
    return sorted(found, key=lambda row: row[0])
