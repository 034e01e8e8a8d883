"""Roles of positions are said as people say them."""

import pytest

from assets.calculations.position_words import position_words


@pytest.mark.parametrize(
    ("role", "said"),
    [
        ("shaft-seal", "shaft seal"),
        ("casing-o-ring", "casing O-ring"),
        ("bearing-de", "bearing, drive end"),
        ("lip-seal-nde", "lip seal, non-drive end"),
        ("wear-ring-casing", "casing wear ring"),
        ("", ""),
    ],
)
def test_a_role_is_said_in_words(role, said):
    assert position_words(role) == said
