"""How answers leave: JSON by orjson, lists also as CSV and NDJSON. Decimals are strings, times are RFC 3339 UTC."""

import csv
import io
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import orjson
from rest_framework.renderers import BaseRenderer

OPTIONS = orjson.OPT_UTC_Z | orjson.OPT_NON_STR_KEYS | orjson.OPT_PASSTHROUGH_SUBCLASS


def _default(value: Any) -> Any:
    if isinstance(value, Decimal):
        return format(value.normalize(), "f") if value == value.to_integral() else format(value, "f")
    kinds: tuple[Callable[[Any], Any], ...] = (str, dict, list, int)
    for plain in kinds:
        if isinstance(value, plain):  # type: ignore[arg-type]
            return plain(value)
    if isinstance(value, (set, frozenset)):
        return sorted(value)
    return str(value)


def to_json(value: Any) -> bytes:
    """JSON bytes of an answer; UUIDs and times natively, decimals as strings."""
    return orjson.dumps(value, default=_default, option=OPTIONS)


class JsonRenderer(BaseRenderer):
    media_type = "application/json"
    format = "json"
    charset = None
    render_style = "binary"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        if data is None:
            return b""
        return data if isinstance(data, bytes) else to_json(data)


def _rows(data: Any) -> list[dict[str, Any]]:
    if isinstance(data, Mapping) and isinstance(data.get("results"), list):
        return data["results"]
    return data if isinstance(data, list) else [data]


class NdjsonRenderer(BaseRenderer):
    """One row a line. The next page's address is in the Link header."""

    media_type = "application/x-ndjson"
    format = "ndjson"
    charset = None
    render_style = "binary"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        return b"".join(to_json(row) + b"\n" for row in _rows(data))


class CsvRenderer(BaseRenderer):
    """RFC 4180 rows. Text that a spreadsheet would take for a formula gets a leading apostrophe."""

    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        rows = _rows(data)
        names = list(rows[0]) if rows else []
        buffer = io.StringIO()
        writer = csv.writer(buffer, lineterminator="\r\n")
        writer.writerow(names)
        for row in rows:
            writer.writerow([csv_cell(row.get(name)) for name in names])
        return buffer.getvalue().encode()


def csv_cell(value: Any) -> str:
    """A value as a cell: text that a spreadsheet would take for a formula with a leading apostrophe."""
    if value is None:
        return ""
    if isinstance(value, str):
        return "'" + value if value[:1] in "=+-@\t\r" and value else value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (Mapping, list)):
        return to_json(value).decode()
    text = to_json(value).decode()
    return text[1:-1] if text.startswith('"') else text


LIST_RENDERERS = [JsonRenderer, CsvRenderer, NdjsonRenderer]
