"""What a signature stands over: a hash of content in one canonical form.

The canonical form is that of RFC 8785 for the values it admits here: text, whole numbers, true, false, null, lists and
objects. Floats are refused: their text would depend on who writes it; decimals and times are signed as text.
"""

import hashlib
import json
from collections.abc import Mapping
from typing import Any

import orjson

_LARGEST_WHOLE_NUMBER = 2**53 - 1


class ContentUnsignable(TypeError):
    """The content holds something that has no one canonical form; the message names the place."""


def content_hash(content: Mapping[str, Any]) -> str:
    """``sha256:`` and 64 hex digits over the canonical form of ``content``. Raises `ContentUnsignable`."""
    return f"sha256:{hashlib.sha256(canonical_form(content)).hexdigest()}"


def canonical_form(content: Any) -> bytes:
    """Canonical JSON after RFC 8785: keys by UTF-16 code units, no spaces, UTF-8. Raises `ContentUnsignable`."""
    if _alike_in_both_orders(content):
        return orjson.dumps(content, option=orjson.OPT_SORT_KEYS)
    text = json.dumps(_ordered(content, "#"), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode()


def signable(value: Any) -> Any:
    """Advice and other worked-out figures in the values that can be signed: floats as the text that names them.

    The shortest text that reads back as the same number, as RFC 8785 asks of it too; so it is the same for ever.
    """
    if isinstance(value, Mapping):
        return {str(key): signable(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [signable(one) for one in value]
    return repr(value) if isinstance(value, float) else value


def _alike_in_both_orders(value: Any) -> bool:
    """Whether orjson writes the canonical form: plain text with keys of one byte a character, lists and objects."""
    kind = type(value)
    if kind is str:
        return value.isascii()
    if kind is dict:
        return all(
            type(key) is str and key.isascii() and ((type(one) is str and one.isascii()) or _alike_in_both_orders(one))
            for key, one in value.items()
        )
    if kind is list:
        return all((type(one) is str and one.isascii()) or _alike_in_both_orders(one) for one in value)
    if kind is int:
        return -_LARGEST_WHOLE_NUMBER <= value <= _LARGEST_WHOLE_NUMBER
    return kind is bool or value is None


def _ordered(value: Any, place: str) -> Any:
    if isinstance(value, Mapping):
        for key in value:
            if not isinstance(key, str):
                raise ContentUnsignable(f"{place}: the key {key!r} is not text.")
            _ordered(key, f"{place}/{key!r}")
        keys = sorted(value, key=lambda one: one.encode("utf-16-be"))
        return {key: _ordered(value[key], f"{place}/{key}") for key in keys}
    if isinstance(value, (list, tuple)):
        return [_ordered(one, f"{place}/{index}") for index, one in enumerate(value)]
    if isinstance(value, str):
        try:
            value.encode()
        except UnicodeEncodeError as error:
            raise ContentUnsignable(f"{place}: the text holds half a character.") from error
        return value
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, int):
        if abs(value) > _LARGEST_WHOLE_NUMBER:
            raise ContentUnsignable(f"{place}: {value} is too large for a number; give it as text.")
        return value
    raise ContentUnsignable(f"{place}: a {type(value).__name__} has no canonical form; give it as text.")
