"""Procedures as YAML text: read with the place of every value, written so that people can read them."""

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from jobs.calculations.procedure_shape import pointer_to

LARGEST_TEXT, DEEPEST = 400_000, 20
_WIDTH, _BLOCK_FROM = 116, 90
_UNSEEN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff]")


class TextUnreadable(ValueError):
    """The text is no document that can be read. ``line`` and ``column`` count from 1; 0 where there is no place."""

    def __init__(self, detail: str, line: int = 0, column: int = 0) -> None:
        super().__init__(f"Line {line}, column {column}: {detail}" if line else detail)
        self.detail, self.line, self.column = detail, line, column


@dataclass(frozen=True)
class ReadText:
    """A document and, by pointer, the line and column where each value stands."""

    document: dict[str, Any]
    places: dict[str, tuple[int, int]] = field(default_factory=dict)

    def place_of(self, pointer: str) -> tuple[int, int]:
        """Where a pointer leads; for what is not there, where it belongs. (0, 0) without a text."""
        while pointer and pointer not in self.places:
            pointer = pointer.rpartition("/")[0]
        return self.places.get(pointer or "#", (0, 0))


def read_text(text: str) -> ReadText:
    """One document of YAML (JSON is YAML too). Raises `TextUnreadable`.

    Aliases are refused, since they can grow without end, and so is a key that stands twice: the first would be lost.
    """
    if len(text) > LARGEST_TEXT:
        raise TextUnreadable(f"The text has {len(text)} characters; {LARGEST_TEXT} are the most.")
    try:
        _check_events(text)
        tree = yaml.compose(text, Loader=yaml.CSafeLoader)
        if not isinstance(tree, yaml.MappingNode):
            raise TextUnreadable("A procedure is a mapping of named fields.", 1, 1)
        places: dict[str, tuple[int, int]] = {}
        document = _value(tree, [], places, _Loader())
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        raise TextUnreadable(f"This is no YAML: {error.problem or error.context}.", line, column) from error
    except (yaml.YAMLError, UnicodeError) as error:
        raise TextUnreadable(f"This is no YAML: {str(error).splitlines()[0]}.") from error
    assert isinstance(document, dict)  # noqa: S101 - made of a mapping
    return ReadText(document, places)


def write_text(document: Mapping[str, Any]) -> str:
    """YAML of a document, keys in the order given; what is read from it again is the same."""
    return yaml.dump(
        dict(document), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=_WIDTH, default_flow_style=False
    )


def _check_events(text: str) -> None:
    depth, documents = 0, 0
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        mark = event.start_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
        if isinstance(event, yaml.AliasEvent):
            raise TextUnreadable(f"*{event.anchor} refers to another place; write it out.", line, column)
        documents += isinstance(event, yaml.DocumentStartEvent)
        if documents > 1:
            raise TextUnreadable("There is more than one document; send one procedure a text.", line, column)
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > DEEPEST:
            raise TextUnreadable(f"It is nested deeper than {DEEPEST} levels; flatten it.", line, column)


class _Loader(yaml.constructor.SafeConstructor):
    """Only makes single values of nodes."""


def _value(node: Any, path: list[Any], places: dict[str, tuple[int, int]], loader: _Loader) -> Any:
    line, column = node.start_mark.line + 1, node.start_mark.column + 1
    places[pointer_to(path)] = (line, column)
    if isinstance(node, yaml.MappingNode):
        found: dict[str, Any] = {}
        for name, inner in node.value:
            if not isinstance(name, yaml.ScalarNode):
                raise TextUnreadable("A name is a text.", name.start_mark.line + 1, name.start_mark.column + 1)
            key = str(name.value)
            if key in found:
                raise TextUnreadable(f"{key} stands twice.", name.start_mark.line + 1, name.start_mark.column + 1)
            found[key] = _value(inner, [*path, key], places, loader)
            places[pointer_to([*path, key])] = (name.start_mark.line + 1, name.start_mark.column + 1)
        return found
    if isinstance(node, yaml.SequenceNode):
        return [_value(one, [*path, number], places, loader) for number, one in enumerate(node.value)]
    try:
        value = loader.construct_object(node)
    except (ValueError, OverflowError, yaml.YAMLError) as error:
        raise TextUnreadable(f"{str(node.value)[:40]!r} cannot be read; put it in quotes.", line, column) from error
    if isinstance(value, (datetime.date, datetime.datetime)):
        return value.isoformat()
    if isinstance(value, float):
        # As written: 0.10 stays 0.10.
        if not math.isfinite(value):
            raise TextUnreadable("This is no finite number.", line, column)
        return value if "e" in str(value) else _as_written(node, value)
    if value is None or isinstance(value, (str, bool, int)):
        return value
    raise TextUnreadable("Use texts, numbers, yes and no.", line, column)


def _as_written(node: Any, value: float) -> Any:
    return value if str(value) == str(node.value) else str(node.value)


class _Dumper(yaml.SafeDumper):
    """Long texts as folded blocks, lists indented under their key."""

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> Any:
        return super().increase_indent(flow, False)


def _write_str(dumper: yaml.SafeDumper, value: str) -> Any:
    style = None
    # Signs that YAML takes for the end of a line, or that are not seen.
    if _UNSEEN.search(value):
        style = '"'
    elif "\n" in value:
        style = "|"
    elif len(value) > _BLOCK_FROM:
        style = ">"
    return dumper.represent_scalar("tag:yaml.org,2002:str", value, style=style)


_Dumper.add_representer(str, _write_str)
