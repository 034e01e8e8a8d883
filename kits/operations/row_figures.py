"""What a row of a file must be to be stored at all: texts that fit, numbers in range, a currency of three letters."""

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.db.models import CharField, DecimalField, Model

from services.api.loading import LoadRow

Wrong = tuple[str, str, str]
_CURRENCY = re.compile(r"[A-Z]{3}")


def unstorable(row: LoadRow, columns: Mapping[str, type[Model]]) -> Wrong | None:
    """(column, what is wrong, remedy) of the first column that its field of the same name cannot hold."""
    for column, model in columns.items():
        value, kept = row.values.get(column), model._meta.get_field(column)
        if value is None:
            continue
        if column.endswith("currency") and not _CURRENCY.fullmatch(str(value)):
            return column, "It is no currency.", "Give three capitals after ISO 4217, such as EUR."
        if isinstance(kept, DecimalField):
            limit = Decimal(10) ** (kept.max_digits - kept.decimal_places)
            if value < 0:
                return column, "It is below zero.", "Check the figure."
            if not abs(value) < limit:
                return column, f"It is {limit:f} or more.", "Check the figure and its unit."
        elif isinstance(kept, CharField) and kept.max_length and len(str(value).strip()) > kept.max_length:
            return column, f"It is longer than {kept.max_length} characters.", "Shorten it."
    return None


def as_kept(figures: Mapping[str, Any], model: type[Model]) -> dict[str, Any]:
    """Figures rounded to the places in which they are kept, so that the same file twice changes nothing."""
    return {name: _rounded(value, model, name) for name, value in figures.items()}


def _rounded(value: Any, model: type[Model], name: str) -> Any:
    if not isinstance(value, Decimal):
        return value
    kept = model._meta.get_field(name)
    return value.quantize(Decimal(1).scaleb(-kept.decimal_places)) if isinstance(kept, DecimalField) else value


def versions_of(kept: Iterable[Model]) -> dict[Any, int]:
    """Versions as the database raised them, by id. One query; the things are of one model."""
    some = list(kept)
    if not some:
        return {}
    rows = type(some[0])._default_manager.filter(pk__in=[one.pk for one in some])
    return dict(rows.values_list("pk", "version"))
