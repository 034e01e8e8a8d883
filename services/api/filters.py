"""Filters of lists. An unknown parameter is refused with the list of known ones."""

from collections.abc import Iterable
from typing import Any

import django_filters
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.forms import Form, IntegerField
from rest_framework.request import Request

from services.api.pagination import CONTROLS
from services.api.problems import near
from services.api.refusals import FieldProblem, Malformed, UnknownParameter


class Filters(django_filters.FilterSet):
    """A strict filter set over a queryset."""


class CountingNumber(IntegerField):
    """A whole number from 1 that is written in digits alone."""

    def __init__(self, **given: Any) -> None:
        super().__init__(min_value=1, max_value=2**31 - 1, **given)

    def to_python(self, value: Any) -> int | None:
        if value not in self.empty_values and not (str(value).isascii() and str(value).isdecimal()):
            raise ValidationError(self.error_messages["invalid"], code="invalid")
        return super().to_python(value)


class CountingNumberFilter(django_filters.Filter):
    """A number that something is counted by, such as a step: 1.5 is none, and is refused rather than never found."""

    field_class = CountingNumber


class TextInFilter(django_filters.BaseInFilter, django_filters.CharFilter):
    """``field__in=a,b,c``."""


class UuidInFilter(django_filters.BaseInFilter, django_filters.UUIDFilter):
    """``field__in=id,id``."""


def check_parameters(request: Request, known: Iterable[str]) -> None:
    """Raise `UnknownParameter` for a query parameter that the address does not know, or one given twice."""
    names = [*known]
    for name in request.query_params:
        if name not in names:
            raise UnknownParameter(
                f"{name!r} is not a parameter of this address.{near(name, names)}",
                remedy=f"Known parameters: {', '.join(sorted(names)) or 'none'}.",
                pointer=f"?{name}",
            )
        if len(request.query_params.getlist(name)) > 1:
            raise Malformed(
                f"{name!r} is given more than once.", remedy="Give it once, or use __in.", pointer=f"?{name}"
            )


def apply_filters(request: Request, filters: type[Filters] | None, queryset: QuerySet[Any, Any]) -> QuerySet[Any, Any]:
    """The queryset narrowed by the request's filters. Raises `UnknownParameter`, `Malformed`."""
    known = list(filters.base_filters) if filters else []
    check_parameters(request, [*known, *CONTROLS])
    if filters is None:
        return queryset
    bound = filters(data=_given(request), queryset=queryset)
    _must_be_valid(bound.form)
    return bound.qs


def read_parameters(request: Request, filters: type[Filters]) -> dict[str, Any]:
    """What a request that answers no list asks for, by parameter; empty or None where one is left out.

    Raises `UnknownParameter`, `Malformed`.
    """
    check_parameters(request, filters.base_filters)
    fields = {name: one.field for name, one in filters.base_filters.items()}
    form = type("Parameters", (Form,), fields)(data=_given(request))
    _must_be_valid(form)
    return dict(form.cleaned_data)


def _given(request: Request) -> dict[str, str]:
    return {name: _plus_kept(str(value)) for name, value in request.query_params.items()}


def _must_be_valid(form: Form) -> None:
    if form.is_valid():
        return
    problems = [
        FieldProblem(f"?{name}", str(one.get("code") or "invalid"), str(one["message"]))
        for name, found in form.errors.get_json_data().items()
        for one in found
    ]
    raise Malformed(
        "A filter's value cannot be read: " + ", ".join(one.pointer for one in problems),
        remedy="Give dates as 2026-01-31, times as 2026-01-31T06:00:00Z, ids as UUIDs.",
        problems=problems,
    )


def _plus_kept(value: str) -> str:
    """A time's offset: an unescaped plus sign arrives as a space."""
    return value.replace(" ", "+") if "T" in value else value


__all__ = [
    "CountingNumberFilter",
    "Filters",
    "TextInFilter",
    "UuidInFilter",
    "apply_filters",
    "check_parameters",
    "read_parameters",
]
