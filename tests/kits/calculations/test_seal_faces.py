"""Seal faces under their letters after EN 12756; letters and ratings are values from memory."""

from decimal import Decimal

import pytest

from assets.calculations.mechanical_seals import FACES, MechanicalSeal, parse
from tests.kits.calculations.shipped_tables import families, rows_of, shipped_tables


def judged(letters, family, high=60):
    return shipped_tables().judge_face(letters, family, Decimal(10), Decimal(high))


def test_every_face_letter_of_the_material_key_is_named():
    """EN 12756:2000 material key, first and second position (letters value from memory)."""
    assert {one["letters"] for one in rows_of("seal_faces")} >= set(FACES)


@pytest.mark.parametrize(
    ("letters", "family", "high", "expected"),
    [
        ("Q1", "mineral-oil", 80, "suitable"),
        ("Q1", "strong-hot-alkali", 90, "suitable"),
        ("Q2", "strong-hot-alkali", 90, "unsuitable"),
        ("U1", "dilute-acid", 40, "unsuitable"),
        ("U2", "sea-water", 40, "limited"),
        ("A", "oxidising-acid", 30, "unsuitable"),
        ("B", "water", 90, "suitable"),
        ("V", "steam", 130, "unsuitable"),
        ("S", "sea-water", 20, "unsuitable"),
    ],
)
def test_screening(letters, family, high, expected):
    """General engineering practice: free silicon dissolves in hot alkali, a cobalt binder in acid, antimony and
    resin in oxidising acid; alumina cracks in steam; chrome steel pits in sea water (value from memory)."""
    assert judged(letters, family, high).result == expected


def test_a_seal_of_silicon_carbide_and_fluorocarbon_bears_oil_and_not_steam():
    """EN 12756 letters, FKM good in mineral oil and bad in steam (general literature on elastomers; letters value from
    memory)."""
    seal = parse("NU043S0 Q1 Q1 V G G").specification
    assert isinstance(seal, MechanicalSeal)
    assert (seal.faces(), seal.elastomers()) == (("Q1",), ("FKM",))
    for family, celsius, expected in (("mineral-oil", 80, "suitable"), ("steam", 130, "unsuitable")):
        found = shipped_tables().judge("FKM", family, Decimal(10), Decimal(celsius))
        assert found.result == expected
    assert judged("Q1", "mineral-oil", 80).result == "suitable"


def test_alumina_is_meant_in_the_first_position_not_fluorocarbon():
    """EN 12756: V is alumina as a face, and FKM as an elastomer (value from memory)."""
    assert "aluminium oxide" in judged("V", "water").sentences[0]


@pytest.mark.parametrize("family", families())
@pytest.mark.parametrize(("bare", "kinds"), [("Q", "Q1 Q2"), ("U", "U1 U2"), ("C", "A B")])
def test_a_letter_that_leaves_the_kind_open_is_no_better_than_the_worst_kind(family, bare, kinds):
    order = ["suitable", "limited", "unsuitable"]
    worst = max(order.index(judged(one, family, 40).result) for one in kinds.split())
    assert order.index(judged(bare, family, 40).result) == worst


def test_a_digit_that_is_not_in_the_table_falls_back_to_the_bare_letter_and_says_so():
    found = judged("Q7", "dilute-alkali")
    assert found.result == judged("Q", "dilute-alkali").result == "unsuitable"
    assert found.material == "Q7"
    assert found.sentences[0] == "The table does not rate seal face Q7 here; it is judged as Q."


def test_what_is_not_rated_is_not_known_and_never_suitable():
    rated = {one["seal_face"] for one in rows_of("seal_face_ratings")}
    for letters in (*FACES, "K", "J3"):
        for family in families():
            found = judged(letters, family, 20)
            assert (found.result == "not-known") == (letters not in rated), (letters, family)
    assert judged("Q1", "molten-salt").result == "not-known"


def test_hotter_than_the_table_it_is_unsuitable_and_poor_lubricity_is_noted():
    assert judged("Q1", "water", 131).result == "unsuitable"
    assert "carbon" in " ".join(judged("Q1", "aliphatic-hydrocarbon").sentences)
