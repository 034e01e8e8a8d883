"""The form for one measurement: what a rule asks for as fields, and fields as what a rule asks for."""

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django.http import HttpRequest, QueryDict

from services.api.refusals import InvalidValue

MOST_READINGS = 100


def fields_of(asks: Mapping[str, Any], written: QueryDict | None) -> dict[str, Any]:
    """Groups of readings and other values to be asked for, each with its field's name and what was written before."""
    kept: Mapping[str, Any] = written or {}
    groups = []
    for group in asks["groups"]:
        fields = []
        for place in range(1, group["count"] + 1):
            name = f"reading-{group['name'] or ''}-{place}"
            label = group["places"][place - 1] if group["places"] else _numbered(place, group["count"])
            fields.append({"name": name, "label": f"{label}, {asks['unit']}", "written": kept.get(name, "")})
        groups.append({"words": group["words"] if group["name"] else "", "fields": fields})
    given = [
        one | {"field": f"given-{one['name']}", "written": kept.get(f"given-{one['name']}", one["default"] or "")}
        for one in asks["given"]
    ]
    return {"groups": groups, "given": given}


def _numbered(place: int, count: int) -> str:
    return f"Reading {place}" if count > 1 else "Reading"


def written_in(request: HttpRequest) -> list[tuple[str, str]]:
    """Fields of readings and of values as they were written, to be shown again where they were refused."""
    return [(name, str(text)[:32]) for name, text in request.POST.items() if name.startswith(("reading-", "given-"))]


def readings_in(request: HttpRequest) -> Any:
    """Readings in a list, or lists by the names of their groups. Raises `InvalidValue` naming the reading."""
    found: dict[str, list[Decimal]] = {}
    for name, text in request.POST.items():
        if name.startswith("reading-"):
            group, _, place = name.removeprefix("reading-").rpartition("-")
            numbers = found.setdefault(group, [])
            if len(numbers) >= MOST_READINGS:
                raise InvalidValue("There are too many readings.", remedy="Load the page again.")
            numbers.append(number_of(str(text), f"Reading {place}{f' of {group}' if group else ''}"))
    return found.get("", found)


def given_in(request: HttpRequest) -> dict[str, str]:
    """Other values that were written; those left empty are not sent."""
    return {
        name.removeprefix("given-"): str(text).strip().replace(",", ".").replace("\N{MINUS SIGN}", "-")
        for name, text in request.POST.items()
        if name.startswith("given-") and str(text).strip()
    }


def number_of(text: str, what: str) -> Decimal:
    """A figure as people write it, with a point or a comma, and with a true minus. Raises `InvalidValue`."""
    try:
        value = Decimal(text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except InvalidOperation as error:
        raise InvalidValue(f"{what} is not a number.", remedy="Write a number such as 0.02.") from error
    if not value.is_finite() or abs(value) >= 10**9 or value != round(value, 9):
        raise InvalidValue(f"{what} is not a number that can be judged.", remedy="Write a number such as 0.02.")
    return value
