"""Suppliers and their terms."""

import uuid
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from kits.models import Supplier, SupplierTerms
from kits.operations.parts import OWNERS
from kits.queries.items import item_for
from services.api.refusals import InvalidValue, NotThere
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def register_supplier(
    *, by: Caller, code: str, name: str, supplier_id: uuid.UUID | None = None, **minimum: Any
) -> Supplier:
    """A new supplier; ``minimum``: ``minimum_order_value`` and ``minimum_order_currency``. Raises `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    figures = {"minimum_order_value": Decimal(0), "minimum_order_currency": "", **minimum}
    _needs_currency(figures["minimum_order_value"], figures["minimum_order_currency"])
    made = Supplier.objects.create(code=code, name=name, **figures, **({"id": supplier_id} if supplier_id else {}))
    _tell("supplier.registered", "supplier", made, by, **_of_supplier(made))
    return made


@transaction.atomic(savepoint=False)
def change_supplier(*, by: Caller, supplier_id: uuid.UUID, expected_version: int, **figures: Any) -> Supplier:
    """Another name, another minimum order value. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    made = Supplier.objects.select_for_update(no_key=True).filter(pk=supplier_id).first()
    if made is None:
        raise NotThere("The supplier is not here.", remedy="GET /suppliers lists them.")
    if made.version != expected_version:
        raise version_changed("The supplier", made.version)
    _needs_currency(
        figures.get("minimum_order_value", made.minimum_order_value),
        figures.get("minimum_order_currency", made.minimum_order_currency),
    )
    if figures:
        Supplier.objects.filter(pk=supplier_id).update(**figures)
        made.refresh_from_db()
    _tell("supplier.changed", "supplier", made, by, **_of_supplier(made))
    return made


def _needs_currency(value: Decimal, currency: str) -> None:
    if value and not currency:
        raise InvalidValue(
            "A minimum order value needs a currency.",
            remedy="Give minimum_order_currency, such as EUR.",
            pointer="#/minimum_order_currency",
        )


def _of_supplier(made: Supplier) -> dict[str, Any]:
    return {
        "code": made.code,
        "minimum_order_value": made.minimum_order_value,
        "minimum_order_currency": made.minimum_order_currency,
    }


@transaction.atomic(savepoint=False)
def agree_terms(*, by: Caller, supplier_id: uuid.UUID, item_id: uuid.UUID, **figures: Any) -> SupplierTerms:
    """Terms for an item at a supplier; fields as in `SupplierTerms`. Raises `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    if not Supplier.objects.filter(pk=supplier_id).exists():
        raise InvalidValue("There is no such supplier.", remedy="GET /suppliers lists them.", pointer="#/supplier")
    item_for(item_id)
    _check(figures)
    made = SupplierTerms.objects.create(supplier_id=supplier_id, item_id=item_id, **figures)
    _tell("supplier-terms.agreed", "supplier-terms", made, by, supplier=supplier_id, item=item_id)
    return made


@transaction.atomic(savepoint=False)
def change_terms(*, by: Caller, terms_id: uuid.UUID, expected_version: int, **figures: Any) -> SupplierTerms:
    """Change terms. Raises `NotThere`, `VersionChanged`, `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    _check(figures)
    done = SupplierTerms.objects.filter(pk=terms_id, version=expected_version).update(**figures) if figures else 1
    made = SupplierTerms.objects.filter(pk=terms_id).first()
    if made is None:
        raise NotThere("The terms are not here.", remedy="GET /supplier-terms lists them.")
    if not done:
        raise version_changed("The terms", made.version)
    _tell("supplier-terms.changed", "supplier-terms", made, by, supplier=made.supplier_id, item=made.item_id)
    return made


def _check(figures: dict[str, Any]) -> None:
    for name in ("minimum", "multiple"):
        if name in figures and Decimal(figures[name]) <= 0:
            raise InvalidValue(f"The {name} must be above zero.", remedy="1 means no rule.", pointer=f"#/{name}")


def _tell(kind: str, noun: str, made: Supplier | SupplierTerms, by: Caller, **facts: Any) -> None:
    record_change(kind, noun=noun, noun_id=made.pk, version=made.version, by=by, body=facts)
