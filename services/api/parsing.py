"""Bodies come in as JSON. What a database cannot hold is refused here, with the place named."""

from collections.abc import Mapping
from typing import Any

import orjson
from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from rest_framework.exceptions import ParseError
from rest_framework.parsers import BaseParser

DEEPEST = 40


class StrictJsonParser(BaseParser):
    """JSON with bounded depth; NUL characters and lone surrogates are refused."""

    media_type = "application/json"

    def parse(
        self,
        stream: Any,
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        # A body is read here and not by Django, whose limit would not be asked.
        raw = stream.read(settings.DATA_UPLOAD_MAX_MEMORY_SIZE + 1)
        if len(raw) > settings.DATA_UPLOAD_MAX_MEMORY_SIZE:
            raise RequestDataTooBig
        if not raw.strip():
            return {}
        try:
            body = orjson.loads(raw)
        except (orjson.JSONDecodeError, RecursionError) as error:
            raise ParseError(f"The body is not JSON that can be read: {error}.") from error
        _check_depth(body)
        # Only an escape brings a NUL in; hardly any body holds what looks like one.
        if b"\\u0000" in raw:
            _check_texts(body)
        return body


def _check_depth(body: Any) -> None:
    level, depth = [body], 0
    while level:
        if depth > DEEPEST:
            raise ParseError(f"The body is nested deeper than {DEEPEST} levels; flatten it.")
        level = [
            item
            for value in level
            if isinstance(value, (dict, list))
            for item in (value.values() if isinstance(value, dict) else value)
        ]
        depth += 1


def _check_texts(body: Any) -> None:
    waiting = [body]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting.extend(item for pair in value.items() for item in pair)
        elif isinstance(value, list):
            waiting.extend(value)
        elif isinstance(value, str) and "\x00" in value:
            raise ParseError("A text in the body holds a NUL character; remove it.")
