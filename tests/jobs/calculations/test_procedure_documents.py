"""Procedures as documents: their schema, their text, and the rows they are kept in. Texts are read back by PyYAML."""

import copy
import json
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from jsonschema import Draft202012Validator

from jobs.calculations.procedure_findings import findings
from jobs.calculations.procedure_format import ACHIEVEMENTS, SCHEMA
from jobs.calculations.procedure_rows import canonical, document_from, head_from, steps_from
from jobs.calculations.procedure_shape import shape_findings
from jobs.calculations.procedure_text import TextUnreadable, read_text, write_text
from jobs.calculations.signed_content import content_hash
from tests.jobs.made_up_procedures import procedures


@given(procedures())
@settings(max_examples=60)
def test_what_is_written_out_and_read_in_again_is_the_same_procedure(document: dict[str, Any]) -> None:
    assert shape_findings(document) == []
    kept = canonical(document)
    again = read_text(write_text(kept)).document
    assert canonical(again) == kept
    assert content_hash(canonical(again)) == content_hash(kept)


@given(procedures())
@settings(max_examples=30)
def test_any_other_reader_of_yaml_sees_the_same(document: dict[str, Any]) -> None:
    assert yaml.safe_load(write_text(canonical(document))) == canonical(document)


@given(procedures())
@settings(max_examples=30)
def test_rows_and_document_tell_the_same(document: dict[str, Any]) -> None:
    kept = canonical(document)
    assert document_from(head_from(kept), steps_from(kept)) == kept
    assert Draft202012Validator(SCHEMA).is_valid(kept)
    assert json.loads(json.dumps(kept)) == kept


@given(procedures())
@settings(max_examples=40)
def test_a_made_up_procedure_is_judged_without_stumbling(document: dict[str, Any]) -> None:
    for one in findings(document):
        assert one.pointer.startswith("#"), one
        assert one.sentence.strip(), one


def test_the_schema_is_one_of_draft_2020_12() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


TEXT = """\
code: SHORT
title: A short one
configuration: in-line
revision: 1
sections:
  - section: make-safe
    steps:
      - number: 10
        title: Isolate
        instruction: Isolate, lock and tag.
        cautoin: Lost?
        characteristics:
          - code: gap
            name: Gap
            quantity: length
            unit: mm
            rule: mean
            limits: {kind: expression, upper: 2 * gap}
            instrument_type: feeler-gauge
"""


@pytest.mark.parametrize(
    ("pointer", "line", "column"),
    [
        ("#/sections/0/steps/0/cautoin", 11, 9),
        ("#/sections/0/steps/0/characteristics/0/limits", 18, 13),
        ("#/sections/0/steps/0/characteristics/0/limits/upper", 18, 40),
        # What is missing belongs where its mapping stands.
        ("#/sections/0/steps/0/signal_word", 8, 9),
        ("#/nowhere", 1, 1),
    ],
)
def test_a_pointer_leads_to_its_line_and_column(pointer: str, line: int, column: int) -> None:
    assert read_text(TEXT).place_of(pointer) == (line, column)


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        ("a: 1\na: 2", 2, 1, "a stands twice"),
        ("- 1", 1, 1, "mapping"),
        ("a: &b [1]\nc: *b", 2, 4, "write it out"),
        ("a: [1,", 2, 1, "no YAML"),
        ('a: "\\ud800"', 1, 7, "no YAML"),
        ("a: 1\n---\nb: 2", 2, 1, "more than one document"),
        ("\x00", 0, 0, "no YAML"),
        ("a: 2026-13-45", 1, 4, "put it in quotes"),
        ("a: !!python/object:os.system x", 1, 4, "cannot be read"),
        ("a: .inf", 1, 4, "no finite number"),
        ("? [1]\n: 2", 1, 3, "A name is a text"),
        ("[" * 30 + "]" * 30, 1, 21, "nested deeper"),
        ("a" * 400_001, 0, 0, "400000 are the most"),
    ],
)
def test_a_text_that_cannot_be_read_says_where(text: str, line: int, column: int, says: str) -> None:
    with pytest.raises(TextUnreadable) as refused:
        read_text(text)
    assert says in refused.value.detail
    assert (refused.value.line, refused.value.column) == (line, column)


def test_figures_are_kept_as_they_are_written() -> None:
    assert read_text("upper: 0.10").document == {"upper": "0.10"}


def test_json_is_read_too() -> None:
    assert read_text('{"code": "A", "sections": [{"steps": []}]}').document["sections"] == [{"steps": []}]


def small() -> dict[str, Any]:
    document = copy.deepcopy(read_text(TEXT).document)
    step = document["sections"][0]["steps"][0]
    del step["cautoin"]
    step["characteristics"][0]["limits"] = {"kind": "numbers", "upper": "0.30"}
    return document


def step_of(document: dict[str, Any], **changes: Any) -> dict[str, Any]:
    document["sections"][0]["steps"][0] |= changes
    return document


def test_usual_values_and_values_left_out_are_the_same_procedure() -> None:
    told = step_of(
        small(), hold_point=False, signal_word="none", tools=[], consumables=[{"name": "cloth", "kind": "other"}]
    )
    short = step_of(small(), consumables=["cloth"])
    assert canonical(told) == canonical(short)


def test_a_lubricant_keeps_its_kind_and_a_photo_whether_it_is_needed() -> None:
    grease = {"name": "Silicone grease", "kind": "lubricant", "note": "thin, on O-rings only"}
    kept = canonical(
        step_of(small(), consumables=[grease], photos=["the seat", {"shows": "the bore", "needed": False}])
    )
    step = kept["sections"][0]["steps"][0]
    assert step["consumables"] == [grease]
    assert step["photos"] == ["the seat", {"shows": "the bore", "needed": False}]


@pytest.mark.parametrize(
    ("key", "value", "place", "says"),
    [
        ("consumables", [{"name": "Grease", "kind": "grease"}], "/consumables/0/kind", "lubricant"),
        ("consumables", [{"kind": "lubricant"}], "/consumables/0/name", "name is missing"),
        ("consumables", [7], "/consumables/0", "text or a mapping"),
        ("photos", [{"show": "x"}], "/photos/0/show", "Did you mean shows"),
        ("achieves", ["isolated"], "/achieves/0", "Did you mean isolate"),
        ("signal_word", "dangers", "/signal_word", "Did you mean danger"),
        ("title", "x" * 201, "/title", "200 are the most"),
        ("number", 0, "/number", "from 1 to"),
        ("tools", [" "], "/tools/0", "blank"),
        ("look_at", "a\x00", "/look_at", "NUL"),
    ],
)
def test_a_place_of_the_wrong_form_is_named_with_what_was_perhaps_meant(
    key: str, value: Any, place: str, says: str
) -> None:
    found = {one.pointer: one.sentence for one in shape_findings(step_of(small(), **{key: value}))}
    assert says in found[f"#/sections/0/steps/0{place}"]


def test_what_is_no_mapping_is_no_procedure() -> None:
    assert [one.pointer for one in shape_findings([])] == ["#"]


def test_every_achievement_may_be_named() -> None:
    assert shape_findings(step_of(small(), achieves=list(ACHIEVEMENTS))) == []
