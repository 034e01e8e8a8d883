"""Typed specifications of all categories: reading, writing back, storing, comparing."""

import dataclasses
import json
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assets.calculations.part_specifications import (
    SpecificationError,
    compare,
    elastomers_of,
    facts_of,
    known_categories,
    parse_specification,
    part_categories,
    read_with_notes,
    specification_from_json,
)
from tests.assets.calculations.made_up_parts import of_category

CATEGORIES = [
    "circlip", "fastener", "flat-gasket", "key", "lip-seal", "mechanical-seal", "o-ring", "other", "packing",
    "rolling-bearing", "sleeve", "wear-ring",
]  # fmt: skip
PAGE = Path(__file__).parents[3] / "docs" / "specifications.md"
TYPED = [one for one in CATEGORIES if one != "other"]


def test_categories_are_those_of_the_trade():
    assert known_categories() == CATEGORIES


@pytest.mark.parametrize("category", CATEGORIES)
@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_what_a_part_is_called_and_what_is_stored_of_it_read_back_to_the_same_part(category, data):
    part = data.draw(of_category(category))
    called = part.designation()
    assert parse_specification(category, called) == part
    assert parse_specification(category, called.lower()).designation().lower() == called.lower()
    stored = json.loads(json.dumps(part.to_json()))
    assert specification_from_json(stored) == part
    assert facts_of(stored)[0] == called
    assert all(one.name and one.value and one.source for one in part.properties())
    assert compare(part, specification_from_json(stored)).equal == (category != "other")


@pytest.mark.parametrize("category", CATEGORIES)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_equal_parts_share_what_candidates_are_found_by_and_nothing_unnamed_is_compared(category, data):
    asked, other = data.draw(of_category(category, pool=True)), data.draw(of_category(category, pool=True))
    names = [one.name for one in dataclasses.fields(asked)]
    taken = data.draw(st.sets(st.sampled_from(names), max_size=3))
    offered = dataclasses.replace(asked, **{name: getattr(other, name) for name in taken})
    for one, two in ((asked, offered), (offered, asked)):
        if compare(one, two).equal:
            assert one.category == two.category
            assert one.alike() == two.alike()
        named = next(known for known in part_categories() if known.code == category)
        if named.is_typed:
            assert {point.name for point in one.points(two)} <= {*named.compared, *named.compared_where_asked}


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(CATEGORIES), st.text(max_size=60))
def test_any_text_is_either_read_or_refused_with_a_field_and_a_remedy(category, text):
    refused = None
    try:
        reading = read_with_notes(category, text)
    except SpecificationError as error:
        refused = error
    if refused:
        assert refused.field
        assert refused.what
        assert refused.remedy
    else:
        assert reading.specification.designation()


WRITTEN = st.text("0123456789.,xX×/-\" 'ACDEGKLMNPQRSTUVZnhiksmf", min_size=1, max_size=24)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(TYPED), WRITTEN)
def test_whatever_is_read_reads_back(category, text):
    try:
        part = parse_specification(category, text)
    except SpecificationError:
        return
    assert parse_specification(category, part.designation()) == part
    assert part.properties()


@pytest.mark.parametrize("one", part_categories(), ids=lambda one: one.code)
def test_each_category_shows_an_example_and_what_is_compared(one):
    part = parse_specification(one.code, one.example)
    assert part.category == one.code
    assert one.title
    assert one.standard
    assert one.is_typed == (one.code != "other")
    if one.is_typed:
        assert tuple(point.name for point in part.points(part))[: len(one.compared)] == one.compared


def test_free_text_is_never_equal_but_by_number():
    one = parse_specification("other", "guard bolt set")
    compared = compare(one, one)
    assert (compared.equal, compared.comparable) == (False, False)


def test_another_category_is_never_comparable():
    ring = parse_specification("o-ring", "226 EPDM 70")
    compared = compare(ring, parse_specification("rolling-bearing", "6308"))
    assert (compared.equal, compared.comparable) == (False, False)


def test_an_unknown_category_names_the_known_ones():
    with pytest.raises(SpecificationError, match="o-ring"):
        parse_specification("hose", "x")


@pytest.mark.parametrize("category", CATEGORIES)
def test_an_empty_text_is_refused_with_an_example(category):
    with pytest.raises(SpecificationError, match="empty"):
        parse_specification(category, "  ")


@pytest.mark.parametrize(
    ("stored", "designation"),
    [
        (
            {"category": "o-ring", "inside_diameter_mm": "50.39", "section_mm": "3.53", "material": "EPDM"},
            "50.39x3.53 EPDM",
        ),
        (
            {"category": "rolling-bearing", "designation_code": "6308", "clearance": "C3", "sealing": "2Z"},
            "6308-2Z/C3",
        ),
        (
            {"category": "lip-seal", "first_mm": "35", "second_mm": "52", "third_mm": "7", "material": "NBR"},
            "35x52x7 NBR",
        ),
        ({"category": "key", "width_mm": "10", "height_mm": "8", "length_mm": "40"}, "10x8x40"),
        ({"category": "key", "width_mm": "10", "height_mm": "7", "length_mm": "40"}, "10x7x40"),
        ({"category": "fastener", "thread": "M12", "length_mm": "40", "strength_class": "8.8"}, "M12x40 8.8"),
        ({"category": "fastener", "thread": "M9", "length_mm": "40", "strength_class": "7.7"}, "M9x40 7.7"),
        (
            {"category": "wear-ring", "first_mm": "110", "second_mm": "95", "third_mm": "20", "material": "CI"},
            "110x95x20 CI",
        ),
    ],
)
def test_what_was_stored_with_fewer_fields_or_looser_rules_still_tells_what_it_is(stored, designation):
    told, properties = facts_of(stored)
    assert told == designation
    assert properties


def test_a_category_alone_tells_nothing():
    assert facts_of({"category": "rolling-bearing"}) == ("", ())
    assert facts_of(None) == ("", ())


@pytest.mark.parametrize(
    "stored",
    [
        {"category": "hose", "length_mm": "3"},
        {"category": "key", "width_mm": "ten", "height_mm": "8", "length_mm": "40"},
        {"category": "key", "colour": "blue"},
        {},
    ],
)
def test_what_is_none_of_ours_is_refused(stored):
    with pytest.raises(SpecificationError):
        specification_from_json(stored)


def test_only_rubber_parts_bring_elastomers():
    brought = {
        ("o-ring", "226 FPM 75"): ("FKM",),
        ("lip-seal", "35x52x7 NBR"): ("NBR",),
        ("flat-gasket", "120x100x2 EPDM"): ("EPDM",),
        ("flat-gasket", "120x100x2 FIBRE"): (),
        ("packing", "10 PTFE"): (),
        ("rolling-bearing", "6308-2RS"): (),
        ("mechanical-seal", "NU043S0 Q1 B E G G"): ("EPDM",),
    }
    for (category, text), expected in brought.items():
        assert elastomers_of(parse_specification(category, text)) == expected, text


def test_the_page_on_writing_specifications_shows_what_is_really_read():
    rows = re.findall(r"^\| ([a-z-]+) \| `(.+?)` \| `(.+?)` \|$", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert {category for category, _, _ in rows} == set(CATEGORIES)
    for category, text, designation in rows:
        assert parse_specification(category, text).designation() == designation, text
