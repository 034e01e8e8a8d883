"""Mechanical seals against EN 12756."""

import pytest

from assets.calculations.mechanical_seals import DIAMETERS, MechanicalSeal, parse
from assets.calculations.part_specifications import SpecificationError, compare


def read(text):
    found = parse(text).specification
    assert isinstance(found, MechanicalSeal)
    return found


def named(text):
    return {one.name: one.value for one in read(text).properties()}


@pytest.mark.parametrize(
    ("text", "length", "balance", "diameter", "rotation", "pinned"),
    [
        ("NU043S0 Q1 Q1 E G G", "N", "U", 43, "S", False), ("KU043S0 Q1 Q1 E G G", "K", "U", 43, "S", False),
        ("KB012R1 B V P G G", "K", "B", 12, "R", True),
    ],
)  # fmt: skip
def test_designations(text, length, balance, diameter, rotation, pinned):
    """EN 12756:2000: N normal or K short, U unbalanced or B balanced, nominal diameter in three digits, rotation R, L
    or S (either way), 0 without or 1 with anti-rotation pin of the seat."""
    seal = read(text)
    assert (seal.length, seal.balance, seal.nominal_diameter_mm) == (length, balance, diameter)
    assert (seal.rotation, seal.seat_pinned) == (rotation, pinned)


def test_what_a_designation_says_in_words():
    """EN 12756:2000, designation."""
    told = named("KB012R1 B V P G G")
    assert (told["length"], told["balance"], told["nominal diameter"]) == ("short", "balanced", "12")
    assert told["rotation"] == "right-hand (clockwise)"
    assert told["stationary seat"] == "with anti-rotation pin"


@pytest.mark.parametrize(
    "text",
    ["NU038S0 Q1 Q1 E G G", "nu038s0 q1 q1 e g g", "NU038S0-Q1Q1EGG", "NU38S0 Q1/Q1/E/G/G", "NU 038 S 0 Q1Q1 EGG",
     "EN 12756 NU038S0 Q1 Q1 E G G", "EN 12756:2000 - NU038S0-Q1-Q1-E-G-G"],
)  # fmt: skip
def test_one_seal_written_in_many_ways(text):
    assert read(text) == read("NU038S0 Q1 Q1 E G G")


@pytest.mark.parametrize(
    ("place", "letter", "words"),
    [
        ("rotating face", "A", "carbon, antimony-impregnated"), ("rotating face", "B", "carbon, resin-impregnated"),
        ("rotating face", "Q1", "silicon carbide, sintered"),
        ("rotating face", "Q2", "silicon carbide, reaction-bonded"),
        ("rotating face", "U1", "tungsten carbide, cobalt binder"),
        ("stationary face", "U2", "tungsten carbide, nickel binder"), ("stationary face", "V", "aluminium oxide"),
        ("rotating face", "E", "chromium steel"), ("stationary face", "S", "cast chromium steel"),
        ("secondary seals", "P", "NBR, acrylonitrile-butadiene rubber"),
        ("secondary seals", "E", "EPDM, ethylene-propylene-diene rubber"),
        ("secondary seals", "V", "FKM, fluorocarbon rubber"),
        ("secondary seals", "K", "FFKM, perfluorocarbon rubber"), ("secondary seals", "N", "CR, chloroprene rubber"),
        ("secondary seals", "S", "VMQ, silicone rubber"), ("secondary seals", "B", "IIR, butyl rubber"),
        ("secondary seals", "X4", "HNBR, hydrogenated acrylonitrile-butadiene rubber"),
        ("secondary seals", "M", "elastomer wrapped in PTFE"), ("secondary seals", "T", "PTFE"),
        ("secondary seals", "G", "graphite foil"), ("spring", "G", "chromium-nickel-molybdenum steel"),
        ("spring", "M", "nickel-base alloy"), ("metal parts", "F", "chromium-nickel steel"),
    ],
)  # fmt: skip
def test_a_letter_means_what_its_place_says(place, letter, words):
    """EN 12756:2000, material key (value from memory): the same letter means another thing in another place, such as
    V alumina as a face and FKM as a secondary seal."""
    letters = {"rotating face": "Q1", "stationary face": "B", "secondary seals": "E", "spring": "G", "metal parts": "G"}
    letters[place] = letter
    assert named(f"NU043S0 {' '.join(letters.values())}")[place] == words


@pytest.mark.parametrize(
    ("letter", "brought"),
    [("P", "NBR"), ("E", "EPDM"), ("V", "FKM"), ("K", "FFKM"), ("N", "CR"), ("S", "VMQ"), ("B", "IIR"), ("X4", "HNBR"),
     ("V3", "FKM"), ("T", None), ("G", None), ("M", None), ("X", None), ("X7", None), ("Y", None)],
)  # fmt: skip
def test_the_elastomer_that_touches_the_liquid(letter, brought):
    """EN 12756:2000, material key, secondary seals (value from memory)."""
    assert read(f"NU043S0 V B {letter} G G").elastomers() == ((brought,) if brought else ())


def test_faces_are_told_by_their_letters():
    assert read("NU043S0 Q1 B E G G").faces() == ("B", "Q1")
    assert read("NU043S0 Q1 Q1 E G G").faces() == ("Q1",)


def test_a_digit_that_is_not_in_the_key_is_kept_and_said():
    assert read("NU043S0 Q7 B E G G").materials[0] == "Q7"
    assert "Q7" in named("NU043S0 Q7 B E G G")["rotating face"]
    assert "Q7" in " ".join(parse("NU043S0 Q7 B E G G").notes)


def test_nominal_diameters():
    """EN 12756:2000, nominal diameters (value from memory)."""
    assert (DIAMETERS[0], DIAMETERS[-1], len(DIAMETERS)) == (10, 100, 34)
    assert {33, 38, 43, 53} <= set(DIAMETERS)
    with pytest.raises(SpecificationError, match="Nearest: 43 mm"):
        parse("NU042S0 Q1 Q1 E G G")


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("NU043S0", "materials"), ("NU043S0 Q1 Q1 E G", "materials"), ("NU043S0 Q1 Q1 E G G G", "materials"),
        ("NU043S0 Q1 Q1 Q G G", "materials"), ("NU043S0 K B E G G", "materials"), ("NU043S0 Q1 B E P G", "materials"),
        ("XU043S0 Q1 Q1 E G G", "specification"), ("NU043X0 Q1 Q1 E G G", "specification"),
        ("NU043S2 Q1 Q1 E G G", "specification"), ("NU036S0 Q1 Q1 E G G", "nominal_diameter_mm"),
        ("NU043S0 Q12 B E G G", "materials"),
    ],
)  # fmt: skip
def test_what_is_none_is_refused_with_its_field(text, field):
    with pytest.raises(SpecificationError) as refused:
        parse(text)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("asked", "offered", "serves"),
    [
        ("NU043R0 Q1 B E G G", "NU043S0 Q1 B E G G", True), ("NU043S0 Q1 B E G G", "NU043R0 Q1 B E G G", False),
        ("NU043R0 Q1 B E G G", "NU043L0 Q1 B E G G", False), ("NU043S0 Q B E G G", "NU043S0 Q1 B E G G", True),
        ("NU043S0 Q1 B E G G", "NU043S0 Q B E G G", False), ("NU043S0 Q1 B E G G", "NU043S0 Q2 B E G G", False),
        ("NU043S0 Q1 B E G G", "NU043S0 B Q1 E G G", False), ("NU043S0 Q1 B E G G", "KU043S0 Q1 B E G G", False),
        ("NU043S0 Q1 B E G G", "NB043S0 Q1 B E G G", False), ("NU043S0 Q1 B E G G", "NU043S1 Q1 B E G G", False),
        ("NU043S0 Q1 B E G G", "NU043S0 Q1 B V G G", False), ("NU043S0 Q1 B E G G", "NU045S0 Q1 B E G G", False),
        ("NU043S0 Q1 B E G G", "NU043S0 Q1 B E G M", False),
    ],
)  # fmt: skip
def test_what_serves_for_what(asked, offered, serves):
    """A seal for either way of turning serves for one way; a digit narrows its letter (EN 12756:2000)."""
    assert compare(read(asked), read(offered)).equal == serves
