"""Ratings, limits and lubricant verdicts handed in as rows of files, keyed by what they judge and by their source."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction

from assets.access import require_operator_wide
from assets.operations.table_rows import OWNERS, Table
from assets.queries.pump_models import fluid_family_ids
from kits.models import LubricantAdvice, MaterialLimit, MaterialRating
from kits.models.materials import COLDEST_C, Figure
from kits.operations.lubricant_tables import VERDICTS
from kits.operations.material_tables import LIMITS, RATINGS, cut_where_verdicts_change
from kits.operations.row_figures import Wrong, as_kept, unstorable, versions_of
from kits.queries.materials import material_ids
from kits.queries.trade_tables import lubricant_ids
from services.api.loading import LoadRow, RowOutcome
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

SAID = ("note", "chosen_because")
DEGREES = ("air_min_c", "air_max_c", "hot_water_max_c")


@dataclass(frozen=True)
class Shape:
    """How rows of a file become rows of a table.

    ``named``: columns that hold a code, each with the ids by code. ``keyed``: further columns that tell rows apart,
    next to the source. ``figures``: what is judged. ``check``: what else must hold of a row.
    """

    table: Table[Any]
    named: Mapping[str, Mapping[str, uuid.UUID]]
    keyed: tuple[str, ...]
    figures: tuple[str, ...]
    check: Callable[[Mapping[str, Any]], Wrong | None]

    def key_of(self, row: Any) -> tuple[Any, ...]:
        """What tells one stored row from another, its source left out."""
        return tuple(getattr(row, name) for name in (*(f"{one}_id" for one in self.named), *self.keyed))


@transaction.atomic(savepoint=False)
def load_material_ratings(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Ratings keyed by material, family, temperature and source. A fixed number of queries."""
    named = {"material": material_ids(), "fluid_family": fluid_family_ids()}
    outcomes = _load(Shape(RATINGS, named, ("up_to_c",), ("rating",), _degrees_wrong), MaterialRating, by, rows)
    cut_where_verdicts_change()
    return outcomes


@transaction.atomic(savepoint=False)
def load_material_limits(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Temperature limits keyed by material and source. A fixed number of queries."""
    outcomes = _load(Shape(LIMITS, {"material": material_ids()}, (), DEGREES, _limits_wrong), MaterialLimit, by, rows)
    cut_where_verdicts_change()
    return outcomes


@transaction.atomic(savepoint=False)
def load_lubricant_verdicts(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Verdicts keyed by material, lubricant and source. A fixed number of queries."""
    named = {"material": material_ids(), "lubricant": lubricant_ids()}
    return _load(Shape(VERDICTS, named, (), ("verdict",), lambda _: None), LubricantAdvice, by, rows)


def _load(shape: Shape, model: type[Figure], by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    require_operator_wide(by, *OWNERS)
    known = {(shape.key_of(one), one.source): one for one in model._default_manager.all()}
    chosen = {shape.key_of(one): one.source for one in known.values() if one.chosen_because}
    outcomes: list[RowOutcome] = []
    fresh: dict[tuple[Any, ...], Figure] = {}
    changed: dict[tuple[Any, ...], Figure] = {}
    for row in rows:
        label = " ".join(str(row.values[name]) for name in (*shape.named, *shape.keyed, "source"))
        made = _figures(shape, model, row)
        if isinstance(made, tuple):
            outcomes.append(RowOutcome.refused(row, label, *made))
            continue
        key = shape.key_of(made), made.source
        if made.chosen_because and chosen.setdefault(key[0], made.source) != made.source:
            outcomes.append(
                RowOutcome.refused(
                    row,
                    label,
                    "chosen_because",
                    "Another source is chosen.",
                    "Choose one row: empty the other's reason.",
                )
            )
            continue
        old = known.get(key)
        if old is None:
            known[key] = fresh[key] = made
            outcomes.append(RowOutcome(row.number, label, "created"))
            continue
        if chosen.get(key[0]) == made.source and not made.chosen_because:
            del chosen[key[0]]
        given = {name: getattr(made, name) for name in (*shape.figures, *SAID)}
        if all(getattr(old, name) == value for name, value in given.items()):
            outcomes.append(RowOutcome(row.number, label, "unchanged"))
            continue
        for name, value in given.items():
            setattr(old, name, value)
        if key not in fresh:
            changed[key] = old
        outcomes.append(RowOutcome(row.number, label, "changed"))
    _keep(shape, model, list(fresh.values()), list(changed.values()), by)
    return outcomes


def _keep(shape: Shape, model: type[Figure], fresh: list[Figure], changed: list[Figure], by: Caller) -> None:
    # One row of a figure can be chosen: those that are so no longer are written before the one that is.
    for some in ([one for one in changed if not one.chosen_because], [one for one in changed if one.chosen_because]):
        model._default_manager.bulk_update(some, [*shape.figures, *SAID])
    model._default_manager.bulk_create(fresh)
    versions = versions_of(changed)
    named = [f"{one}__code" for one in shape.named]
    codes = {
        pk: dict(zip(shape.named, these, strict=True))
        for pk, *these in model._default_manager.filter(pk__in=[one.pk for one in (*fresh, *changed)]).values_list(
            "pk", *named
        )
    }
    told = (*shape.keyed, *shape.figures, "chosen_because", "source")
    record_changes(
        [
            Recorded(
                f"{shape.table.noun}.{what}",
                shape.table.noun,
                one.pk,
                versions.get(one.pk, one.version),
                None,
                codes[one.pk] | {name: getattr(one, name) for name in told},
            )
            for what, some in (("registered", fresh), ("changed", changed))
            for one in some
        ],
        by=by,
    )


def _figures(shape: Shape, model: type[Figure], row: LoadRow) -> Figure | Wrong:
    values = row.values
    ids = {}
    for name, known in shape.named.items():
        code = str(values[name])
        if code not in known:
            words = name.replace("_", " ")
            return name, f"No such {words} is known.", f"Known: {', '.join(sorted(known))}."
        ids[f"{name}_id"] = known[code]
    wrong = unstorable(row, {"source": model}) or shape.check(values)
    if wrong:
        return wrong
    figures = as_kept({name: values.get(name) for name in (*shape.keyed, *shape.figures)}, model)
    said = {name: str(values.get(name) or "") for name in SAID}
    return model(**ids, **figures, **said, source=str(values["source"]).strip())


def _degrees_wrong(values: Mapping[str, Any]) -> Wrong | None:
    for name in ("up_to_c", *DEGREES):
        value = values.get(name)
        if value is not None and not COLDEST_C <= value < Decimal(10000):
            return name, "It is no temperature in degrees Celsius.", "Check the figure and its unit."
    return None


def _limits_wrong(values: Mapping[str, Any]) -> Wrong | None:
    low, high, _ = (values.get(name) for name in DEGREES)
    if all(values.get(name) is None for name in DEGREES):
        return "air_max_c", "The row gives no limit at all.", "Give at least one temperature."
    if low is not None and high is not None and low >= high:
        return "air_min_c", "The lowest temperature is not below the highest.", "Check which is which."
    return _degrees_wrong(values)
