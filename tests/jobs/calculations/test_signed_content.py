"""The canonical form that signatures stand over."""

import datetime
import hashlib
import json
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calculations.signed_content import ContentUnsignable, canonical_form, content_hash


def test_keys_stand_in_the_order_of_their_utf_16_units() -> None:
    # RFC 8785, 3.2.3, with its own example of property names.
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = list(json.loads(canonical_form(dict.fromkeys(names, 0))))
    assert ordered == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


def test_text_is_escaped_as_little_as_possible() -> None:
    # RFC 8785, 3.2.2.2: the string of its example, as it stands in the canonical output of 3.2.4.
    assert canonical_form({"string": '\u20ac$\u000f\nA\'B"\\\\"/'}) == (
        '{"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'.encode()
    )


def test_literals_and_nesting_take_no_spaces() -> None:
    # RFC 8785, 3.2.4: the literals of its example.
    assert canonical_form({"literals": [None, True, False]}) == b'{"literals":[null,true,false]}'


def test_the_hash_is_sha_256_of_the_canonical_text() -> None:
    # FIPS 180-4 by way of Python's hashlib over a text written out by hand.
    expected = hashlib.sha256(b'{"job":"J-1","steps":[1,2]}').hexdigest()
    assert content_hash({"steps": [1, 2], "job": "J-1"}) == f"sha256:{expected}"


@pytest.mark.parametrize(
    "value",
    [
        1.5,
        float("nan"),
        Decimal("1.5"),
        datetime.date(2026, 1, 1),
        b"x",
        {1, 2},
        2**53,
        "\ud800",
        {1: "x"},
        {"\ud800": 1},
    ],
)
def test_what_has_no_one_form_is_not_signed(value: Any) -> None:
    with pytest.raises(ContentUnsignable, match="#/measured/0"):
        content_hash({"measured": [value]})


plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(st.dictionaries(st.text(), plain, max_size=5), st.randoms(use_true_random=False))
def test_the_order_in_which_keys_were_written_does_not_matter(content: dict[str, Any], random: Any) -> None:
    keys = list(content)
    random.shuffle(keys)
    assert content_hash({key: content[key] for key in keys}) == content_hash(content)


@given(st.dictionaries(st.text(), plain, max_size=5))
def test_reading_the_canonical_form_gives_the_content_again(content: dict[str, Any]) -> None:
    assert json.loads(canonical_form(content)) == content


@given(st.dictionaries(st.text(), plain, min_size=1, max_size=5))
def test_any_change_changes_the_hash(content: dict[str, Any]) -> None:
    key = next(iter(content))
    assert content_hash({**content, key: ["changed", content[key]]}) != content_hash(content)
