"""Saved mappings: how files of one origin are read into one kind. Whoever owns the catalogue's data keeps them."""

import uuid
from collections.abc import Mapping
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from assets.access import require_operator_wide
from services.api.loading import Column, LoadKind, known_loads
from services.api.problems import near
from services.api.refusals import FieldProblem, InvalidValue, Malformed, NotThere
from services.api.versions import version_changed
from services.bulk_loads.models import ColumnMapping
from services.bulk_loads.reading import Reading
from services.bulk_loads.reading.headers import plain_name
from services.changes.recording import record_change
from services.identity.callers import Caller

KEEPERS = ("data-owner", "integrator", "admin")
READ_WITH = tuple(one.name for one in fields(Reading))


def load_kind(name: str) -> LoadKind:
    """A kind of file by its name. Raises `Malformed` naming the known ones."""
    kinds = known_loads()
    if name not in kinds:
        raise Malformed(
            f"kind={name[:40]!r} is no kind of file.{near(name, kinds)}",
            remedy=f"Known: {', '.join(sorted(kinds))}.",
            pointer="?kind",
        )
    return kinds[name]


def mappings() -> QuerySet[ColumnMapping]:
    """Every mapping; whoever may hand files in may use each."""
    return ColumnMapping.objects.all()


def reading_for(kind: LoadKind, mapping: str, sheet: str = "") -> Reading:
    """How a file of a kind is read: after the mapping of that name, a sheet named by hand going before its own.

    Raises `Malformed` where there is no such mapping.
    """
    reading = Reading()
    if mapping:
        kept = ColumnMapping.objects.filter(kind=kind.name, name__iexact=mapping).first()
        if kept is None:
            names = list(ColumnMapping.objects.filter(kind=kind.name).values_list("name", flat=True)[:200])
            raise Malformed(
                f"mapping={mapping[:80]!r} is no mapping for {kind.name}.{near(mapping, names)}",
                remedy=f"Known: {', '.join(names[:20])}." if names else "Save it first: POST /column-mappings.",
                pointer="?mapping",
            )
        reading = Reading(**{name: getattr(kept, name) for name in READ_WITH})
    return replace(reading, sheet=sheet) if sheet else reading


@transaction.atomic(savepoint=False)
def register_mapping(
    *, by: Caller, kind: str, name: str, mapping_id: uuid.UUID | None = None, **how: Any
) -> ColumnMapping:
    """Keep a mapping under a name. Raises `InvalidValue` naming the entry that is not of the kind, `AlreadyThere`."""
    require_operator_wide(by, *KEEPERS)
    kinds = known_loads()
    if kind not in kinds:
        raise InvalidValue(
            f"{kind[:40]!r} is no kind of file.{near(kind, kinds)}",
            remedy="GET /bulk-load-kinds lists them.",
            pointer="#/kind",
        )
    _check(kinds[kind], how)
    made = ColumnMapping.objects.create(
        kind=kind, name=name.strip(), **how, **({"id": mapping_id} if mapping_id else {})
    )
    _tell("column-mapping.registered", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_mapping(*, by: Caller, mapping_id: uuid.UUID, expected_version: int, **changes: Any) -> ColumnMapping:
    """Change how files are read; loads that were handed in before keep what they came with.

    Raises `NotThere`, `VersionChanged`, `InvalidValue`.
    """
    require_operator_wide(by, *KEEPERS)
    made = _locked(mapping_id, expected_version)
    _check(load_kind(made.kind), changes)
    for name, value in changes.items():
        setattr(made, name, value.strip() if name == "name" else value)
    made.save(update_fields=list(changes) or ["name"])
    made.refresh_from_db()
    _tell("column-mapping.changed", made, by)
    return made


@transaction.atomic(savepoint=False)
def remove_mapping(*, by: Caller, mapping_id: uuid.UUID, expected_version: int) -> None:
    """Forget a mapping. Raises `NotThere`, `VersionChanged`."""
    require_operator_wide(by, *KEEPERS)
    made = _locked(mapping_id, expected_version)
    _tell("column-mapping.removed", made, by)
    made.delete()


def _locked(mapping_id: uuid.UUID, expected_version: int) -> ColumnMapping:
    made = ColumnMapping.objects.select_for_update(no_key=True).filter(pk=mapping_id).first()
    if made is None:
        raise NotThere("The mapping is not here.", remedy="Check the id.")
    if made.version != expected_version:
        raise version_changed("The mapping", made.version)
    return made


def _tell(kind: str, made: ColumnMapping, by: Caller) -> None:
    record_change(
        kind,
        noun="column-mapping",
        noun_id=made.pk,
        version=made.version,
        by=by,
        body={"kind": made.kind, "name": made.name},
    )


def _check(kind: LoadKind, how: Mapping[str, Any]) -> None:
    """Whether every column named is one of the kind, and every unit one of its column. Raises `InvalidValue`."""
    if kind.accepts != "rows":
        raise InvalidValue(
            f"Files of {kind.name} are documents, which have no columns.", remedy="Choose a kind of rows.",
            pointer="#/kind",
        )  # fmt: skip
    columns = {one.name: one for one in kind.columns}
    problems = []
    named = [(f"#/columns/{header}", column) for header, column in how.get("columns", {}).items()]
    named += [
        (f"#/{field}/{one}", one) for field in ("constants", "translations", "units") for one in how.get(field, {})
    ]
    for pointer, name in named:
        if name not in columns:
            words = f"{name!r} is no column of {kind.name}.{near(name, columns)}"
            problems.append(FieldProblem(pointer, "unknown-column", words))
    headers: dict[str, str] = {}
    for header in how.get("columns", {}):
        twin = headers.setdefault(plain_name(header), header)
        if twin != header:
            problems.append(FieldProblem(f"#/columns/{header}", "header-twice", f"It cannot be told from {twin!r}."))
    for name, unit in how.get("units", {}).items():
        wrong = _wrong_unit(columns[name], unit) if name in columns else ""
        if wrong:
            problems.append(FieldProblem(f"#/units/{name}", "unit-unknown", wrong))
    if problems:
        raise InvalidValue(
            " ".join(one.detail for one in problems[:5]),
            remedy=f"The columns of {kind.name} are: {', '.join(columns)}.",
            problems=problems,
        )


def _wrong_unit(column: Column, unit: str) -> str:
    if column.convert is None:
        return f"{column.name} has no unit."
    try:
        column.convert(Decimal(1), unit, column.unit)
    except ValueError as error:
        return str(error)
    return ""
