"""Two revisions held against each other. Rules of the shop: common practice, no source; differences by difflib."""

import copy
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calculations.procedure_comparison import compare, word_changes
from jobs.calculations.procedure_rows import head_from, steps_from
from tests.jobs.calculations.test_procedure_findings import complete
from tests.jobs.made_up_procedures import procedures

TITLES = ("Make safe", "Open it", "Measure", "Seal in", "Guards", "Run it")


def whole() -> dict[str, Any]:
    """Steps that each say something of their own."""
    document = complete()
    for section in document["sections"]:
        one = section["steps"][0]
        one["instruction"] = f"{one['title']} {one['number']} as the maker of this pump says."
    return document


def compared(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    return compare(head_from(before), steps_from(before), head_from(after), steps_from(after))


def test_the_same_revision_differs_in_nothing() -> None:
    found = compared(whole(), whole())
    assert found == {"fields": [], "added": [], "removed": [], "moved": [], "changed": [], "unchanged": 6}


def test_a_step_added_and_a_step_removed_are_named() -> None:
    after = whole()
    gone = after["sections"][1]["steps"].pop()
    after["sections"][1]["steps"].append({"number": 25, "title": "Match-mark", "instruction": "Punch both halves."})
    found = compared(whole(), after)
    assert found["added"] == [{"number": 25, "section": "dismantle", "title": "Match-mark"}]
    assert found["removed"] == [{"number": gone["number"], "section": "dismantle", "title": gone["title"]}]
    assert found["unchanged"] == 5


def test_a_renumbered_step_is_still_that_step() -> None:
    after = whole()
    after["sections"][2]["steps"][0]["number"] = 35
    found = compared(whole(), after)
    assert (found["added"], found["removed"], found["moved"]) == ([], [], [])
    (one,) = found["changed"]
    assert (one["number"], one["before_number"]) == (35, 30)
    assert one["fields"] == [{"field": "number", "before": 30, "after": 35}]


def test_a_step_taken_to_another_place_has_moved() -> None:
    after = whole()
    step = after["sections"][1]["steps"].pop()
    after["sections"][1]["steps"].append(after["sections"][3]["steps"].pop() | {"number": 21})
    after["sections"][3]["steps"].append(step | {"number": 41})
    found = compared(whole(), after)
    assert {(one["title"], one["before_section"], one["section"]) for one in found["moved"]} == {
        ("Open it", "dismantle", "assemble"),
        ("Seal in", "assemble", "dismantle"),
    }
    assert (found["added"], found["removed"]) == ([], [])


def test_a_changed_text_is_told_word_by_word() -> None:
    after = whole()
    after["sections"][0]["steps"][0]["caution"] = "Stored energy maims and kills."
    (one,) = compared(whole(), after)["changed"]
    (field,) = one["fields"]
    assert (field["field"], field["before"], field["after"]) == (
        "caution", "Stored energy kills.", "Stored energy maims and kills.",
    )  # fmt: skip
    assert field["words"] == [
        {"change": "same", "text": "Stored energy "},
        {"change": "added", "text": "maims and "},
        {"change": "same", "text": "kills."},
    ]


def test_characteristics_are_told_by_their_codes() -> None:
    after = whole()
    asked = after["sections"][2]["steps"][0]["characteristics"]
    asked[0]["limits"] = {"kind": "numbers", "upper": "0.40"}
    asked.append({**copy.deepcopy(asked[0]), "code": "run-out"})
    (one,) = compared(whole(), after)["changed"]
    assert one["characteristics_added"] == ["run-out"]
    assert one["characteristics_removed"] == []
    (changed,) = one["characteristics_changed"]
    assert (changed["code"], [field["field"] for field in changed["fields"]]) == ("gap", ["limits"])


def test_the_head_is_compared_too() -> None:
    found = compared(whole(), whole() | {"title": "A new title"})
    assert [one["field"] for one in found["fields"]] == ["title"]


@given(st.text(max_size=60), st.text(max_size=60))
def test_word_changes_put_both_texts_together_again(before: str, after: str) -> None:
    found = word_changes(before, after)
    assert "".join(one["text"] for one in found if one["change"] != "added") == before
    assert "".join(one["text"] for one in found if one["change"] != "removed") == after


@given(procedures(), procedures())
@settings(max_examples=40)
def test_every_step_is_accounted_for_once(before: dict[str, Any], after: dict[str, Any]) -> None:
    found = compared(before, after)
    paired = len(found["changed"]) + found["unchanged"]
    assert paired + len(found["removed"]) == len(steps_from(before))
    assert paired + len(found["added"]) == len(steps_from(after))


@given(procedures())
@settings(max_examples=30)
def test_a_revision_never_differs_from_itself(document: dict[str, Any]) -> None:
    found = compared(document, document)
    assert (found["added"], found["removed"], found["moved"], found["changed"]) == ([], [], [], [])
