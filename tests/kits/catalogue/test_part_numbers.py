"""A part is found by its number however the number is written."""

import unicodedata

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.part_numbers import SEPARATORS, SMALL, SPACES, normalise_number
from kits.queries.parts import part_ids_by_normalised_number
from tests.shelves import make_part

# Whatever a database can hold, with what the rule is about more often than by chance.
SIGNS = st.characters(exclude_categories=["Cs"], exclude_characters="\x00") | st.sampled_from(
    SMALL + SPACES + SEPARATORS
)


class TestTheRule:
    @pytest.mark.parametrize("written", ["OR 226-E", "or226e", "OR.226/E", "OR_226\u2013E", "OR\u00a0226\u2011e"])
    def test_spaces_separators_and_capitals_do_not_matter(self, written):
        assert normalise_number(written) == "OR226E"

    def test_every_space_of_the_unicode_tables_is_left_out(self):
        """Python's str.isspace follows the Unicode character database."""
        spaces = [chr(one) for one in range(0x110000) if chr(one).isspace()]
        assert [one for one in spaces if normalise_number(one)] == []

    def test_every_dash_that_joins_words_is_left_out(self):
        """Unicode general category Pd, the signs of General Punctuation."""
        dashes = [chr(one) for one in range(0x2000, 0x2070) if unicodedata.category(chr(one)) == "Pd"]
        assert len(dashes) == 6
        assert [one for one in dashes if normalise_number(one)] == []

    @given(st.text(SIGNS, max_size=60))
    def test_what_was_normalised_stays_as_it_is(self, number):
        assert normalise_number(normalise_number(number)) == normalise_number(number)


@pytest.mark.django_db
class TestTheDatabase:
    @given(numbers=st.lists(st.text(SIGNS, max_size=60), min_size=1, max_size=40))
    def test_has_the_same_rule(self, numbers):
        with connection.cursor() as cursor:
            cursor.execute("SELECT normalised_part_number(one) FROM unnest(%s::text[]) one", [numbers])
            assert [one for (one,) in cursor.fetchall()] == [normalise_number(one) for one in numbers]

    def test_finds_parts_by_any_writing_in_one_statement(self):
        first, second, third = make_part("OR 226-E"), make_part("OR226/E"), make_part("Ring.ø 40")
        with CaptureQueriesContext(connection) as captured:
            found = part_ids_by_normalised_number(["or-226.e", "RING Ø40", "nothing like it", "-"])
        assert len(captured) == 1
        assert {key: set(ids) for key, ids in found.items()} == {
            "OR226E": {first.pk, second.pk},
            "RINGØ40": {third.pk},
            "NOTHINGLIKEIT": set(),
            "": set(),
        }

    def test_uses_the_index(self):
        with connection.cursor() as cursor:
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute("EXPLAIN SELECT id FROM kits_item WHERE normalised_part_number(number) = ANY(%s)", [["A"]])
            assert "item_by_compared_number" in "\n".join(row for (row,) in cursor.fetchall())
