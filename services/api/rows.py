"""The shape of answers: a serializer that names columns, so rows go from the database to JSON unhandled."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, ClassVar

from django.db.models import F, QuerySet
from django.db.models.query import ValuesIterable
from rest_framework import serializers
from rest_framework.request import Request

from services.api.problems import near
from services.api.refusals import UnknownParameter


class Rows(serializers.Serializer[Any]):
    """Declares what a row of an answer holds; documents it in the schema and selects it from the database.

    A field's ``source`` is the model path (dots for joins); without one it is the field's own name. Fields listed
    in ``computed`` are not columns: the queries function adds them.
    """

    computed: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def columns(cls, only: Iterable[str] | None = None) -> tuple[list[str], dict[str, F]]:
        """Positional and renamed columns for ``.values()``."""
        plain: list[str] = []
        renamed: dict[str, F] = {}
        for name, field in cls._declared_fields.items():
            if name in cls.computed or (only is not None and name not in only):
                continue
            source = field._kwargs.get("source") or name  # type: ignore[attr-defined]
            path = source.replace(".", "__")
            if path == name:
                plain.append(name)
            else:
                renamed[name] = F(path)
        return plain, renamed

    @classmethod
    def select(cls, queryset: QuerySet[Any, Any], only: Iterable[str] | None = None) -> QuerySet[Any, dict[str, Any]]:
        """The queryset as dictionaries of exactly these columns.

        A name of an answer may be that of a model field with another meaning (``by`` for the person's name): Django
        does not select under such a name, so it is selected under another one and renamed row by row.
        """
        plain, renamed = cls.columns(only)
        taken = {one.name for one in queryset.model._meta.get_fields()}
        aliases = {name: f"row_{name}" if name in taken else name for name in renamed}
        rows = queryset.values(*plain, **{aliases[name]: path for name, path in renamed.items()})
        names = {alias: name for name, alias in aliases.items() if alias != name}
        if names:
            rows._iterable_class = type("RenamedRows", (RenamedRows,), {"names": names})
        return rows


def plain_rows(rows: QuerySet[Any, Any]) -> list[dict[str, Any]]:
    """A ``.values()`` queryset, fetched: dictionaries to which computed fields may be added."""
    return [dict(row) for row in rows]


class RenamedRows(ValuesIterable):
    """Dictionaries of which some keys are renamed."""

    names: ClassVar[Mapping[str, str]] = {}

    def __iter__(self) -> Iterator[dict[str, Any]]:
        names = self.names
        for row in super().__iter__():
            yield {names.get(key, key): value for key, value in row.items()}


class Body(serializers.Serializer[Any]):
    """A request body. Fields that are not known are refused, since a misspelt one would lose data silently."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            unknown = {
                name: [
                    serializers.ErrorDetail(
                        f"Not a field of this request.{near(str(name), self.fields)} "
                        f"Known: {', '.join(field for field, one in self.fields.items() if not one.read_only)}.",
                        code="unknown-field",
                    )
                ]
                for name in data
                if name not in self.fields or self.fields[str(name)].read_only
            }
            if unknown:
                raise serializers.ValidationError(unknown)
        return super().to_internal_value(data)


class NothingIn(Body):
    """The body of an action that needs nothing said."""


def read_body(request: Request, body: type[Body], *, partial: bool = False) -> dict[str, Any]:
    """The validated fields of a request body. Raises DRF's ValidationError, which becomes a 422 problem."""
    reader = body(data=request.data, partial=partial)
    reader.is_valid(raise_exception=True)
    return dict(reader.validated_data)


def chosen_fields(request: Request, rows: type[Rows]) -> list[str] | None:
    """The columns named by ``fields=a,b``; None for all. Raises `UnknownParameter`."""
    text = request.query_params.get("fields")
    if not text:
        return None
    wanted = [name.strip() for name in text.split(",") if name.strip()]
    known = list(rows._declared_fields)
    for name in wanted:
        if name not in known:
            raise UnknownParameter(
                f"fields names {name!r}, which these rows do not have.{near(name, known)}",
                remedy=f"Choose from: {', '.join(known)}.",
                pointer="?fields",
            )
    return wanted
