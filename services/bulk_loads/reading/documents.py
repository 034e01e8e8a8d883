"""Whole documents: YAML or JSON, bounded in depth, without references that grow."""

import datetime
import math
from collections.abc import Mapping
from typing import Any

import orjson
import yaml

from services.api.parsing import DEEPEST
from services.bulk_loads.reading.encodings import decode
from services.bulk_loads.reading.result import JSON, YAML, short, shown
from services.bulk_loads.refusals import FileUnreadable


def read_documents(content: bytes, media_type: str) -> list[Mapping[str, Any]]:
    """Each document of a file, as plain values. Raises `FileUnreadable`."""
    if media_type not in {YAML, JSON}:
        raise FileUnreadable(f"Documents do not come as {media_type}.", remedy="Send YAML or JSON.")
    text, _ = decode(content)
    try:
        if media_type == YAML:
            _check_nodes(text)
            found = [one for one in yaml.load_all(text, Loader=yaml.CSafeLoader) if one is not None]
        else:
            found = orjson.loads(text)
            found = found if isinstance(found, list) else [found]
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        raise FileUnreadable(f"It is no {media_type}: {short(error)}.", remedy="Correct the place named.") from error
    if not found or not all(isinstance(one, Mapping) for one in found):
        raise FileUnreadable("The file holds no document of named fields.", remedy="Give one mapping a document.")
    return [_plain(one, f"document {number}", 0) for number, one in enumerate(found, 1)]


def _plain(value: Any, place: str, depth: int) -> Any:
    """A document's values as JSON knows them: dates as text, names as text. Raises `FileUnreadable` for others."""
    if depth > DEEPEST:
        raise FileUnreadable(f"{place} is nested deeper than {DEEPEST} levels.", remedy="Flatten it.")
    if isinstance(value, Mapping):
        return {
            _plain(str(name), place, depth): _plain(one, f"{place}/{name}", depth + 1) for name, one in value.items()
        }
    if isinstance(value, list):
        return [_plain(one, f"{place}/{number}", depth + 1) for number, one in enumerate(value)]
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, str) and "\x00" in value:
        raise FileUnreadable(f"{shown(place)} holds a NUL character.", remedy="Remove it.")
    if isinstance(value, float) and not math.isfinite(value):
        raise FileUnreadable(f"{place} is no finite number.", remedy="Give a number.")
    if value is None or isinstance(value, (str, bool, int, float)):
        return value
    raise FileUnreadable(f"{place} is of a type that is not taken.", remedy="Use texts, numbers, yes and no, dates.")


def _check_nodes(text: str) -> None:
    """Refuse YAML that would grow beyond what was sent, or lies deeper than anything that people write."""
    depth = 0
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        if isinstance(event, yaml.AliasEvent):
            raise FileUnreadable(
                f"{_line_of(event)} refers to another place (*{event.anchor}).",
                remedy="Write it out; references are not taken.",
            )
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > DEEPEST:
            raise FileUnreadable(f"{_line_of(event)} is nested deeper than {DEEPEST} levels.", remedy="Flatten it.")


def _line_of(event: yaml.Event) -> str:
    return f"Line {event.start_mark.line + 1}" if event.start_mark else "A line"
