"""A small catalogue and stock for tests: an O-ring that ages, a bearing that does not, and a kit of both."""

import datetime
import uuid
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from assets.models import PositionRole, Site
from kits.models import Item, Kit, KitLine, KitScope, Lot, Part, StorageGroup, Supplier, SupplierTerms
from kits.operations.lots import ensure_lot
from kits.operations.movements import Entry, post_movements
from services.identity.callers import Caller

O_RING = {"category": "o-ring", "inside_diameter_mm": "50.39", "section_mm": "3.53", "material": "EPDM"}


def make_part(number: str, *, category: str = "other", elastomers: tuple[str, ...] = (), group: str = "") -> Item:
    item = Item.objects.create(kind="part", number=number, name=number.title(), cost=Decimal("4.20"), currency="EUR")
    storage = None
    if group:
        years = {"A": (5, 2), "B": (7, 3), "C": (10, 5)}[group]
        storage, _ = StorageGroup.objects.get_or_create(
            code=group, defaults={"initial_years": years[0], "extension_years": years[1], "source": "ISO 2230:2002"}
        )
    Part.objects.create(
        item=item,
        category=category,
        specification={"category": category},
        elastomers=list(elastomers),
        storage_group=storage,
    )
    return item


def make_kit(
    number: str,
    parts: list[tuple[str, Item]],
    *,
    revision: str = "A",
    scope: str = "full-overhaul",
    optional: tuple[int, ...] = (),
) -> Item:
    item = Item.objects.create(
        kind="kit", number=number, revision=revision, name=f"Kit {number}", cost=Decimal("184.5"), currency="EUR"
    )
    kit_scope, _ = KitScope.objects.get_or_create(code=scope, defaults={"name": scope})
    kit = Kit.objects.create(item=item, scope=kit_scope)
    for line, (role, part) in enumerate(parts, 1):
        PositionRole.objects.get_or_create(code=role, defaults={"name": role})
        KitLine.objects.create(kit=kit, line=line, role_id=role, part_id=part.pk, quantity=1, optional=line in optional)
    Kit.objects.filter(pk=kit.pk).update(state="released", released_at=timezone.now())
    return item


@dataclass
class Shelves:
    """An ageing kit with the parts in it."""

    o_ring: Item
    bearing: Item
    kit: Item
    supplier: Supplier


def fill_catalogue() -> Shelves:
    o_ring = make_part("OR-50", category="o-ring", elastomers=("EPDM",), group="C")
    bearing = make_part("BRG-40", category="rolling-bearing")
    kit = make_kit("K-100", [("casing-o-ring", o_ring), ("bearing-de", bearing)])
    supplier = Supplier.objects.create(code="harrow", name="Harrow Sealing")
    SupplierTerms.objects.create(
        supplier=supplier,
        item=kit,
        lead_time_days=42,
        lead_time_sd_days=9,
        minimum=2,
        multiple=2,
        price=Decimal("184.5"),
        currency="EUR",
        order_cost=Decimal(35),
    )
    return Shelves(o_ring, bearing, kit, supplier)


def put_on_shelf(
    by: Caller,
    site: Site,
    item: Item,
    quantity: int | str,
    *,
    lot: str = "L-1",
    cured: datetime.date | None = datetime.date(2026, 3, 31),
    occurred_at: datetime.datetime | None = None,
) -> Lot:
    """Receive a quantity of a lot at a site."""
    when = occurred_at or timezone.now()
    with transaction.atomic():
        made = ensure_lot(by=by, item_id=item.pk, number=lot, received_on=when.date(), cure_date=cured)
        entry = Entry("receipt", site.pk, item.pk, made.pk, Decimal(quantity), when)
        post_movements(by=by, entries=[entry])
    return made


def some_job() -> tuple[uuid.UUID, str]:
    """An id and a number as jobs have them."""
    job_id = uuid.uuid4()
    return job_id, f"J-{job_id.hex[:8]}"
