"""Codes as lists of the standards print them: ISO 14224:2016 table B.2 and the list of failure modes of pumps that the
OREDA handbook (2009, volume 1, page 138) shares with it; ISO 15243:2017, headings of clause 5."""

import pytest

from jobs.calculations.failure_codes import (
    BEARING_DAMAGE,
    FAILURE_MECHANISMS,
    FAILURE_MODES,
    all_codes,
    is_bearing,
    removed_condition,
)
from jobs.models import FittedPart

# OREDA 2009, volume 1, page 138: failure modes of pumps.
PRINTED_MODES = {
    "AIR", "BRD", "ELP", "ELU", "ERO", "FTS", "HIO", "INL", "LOO", "NOI", "OHE", "OTH", "PDE", "SER", "STD", "STP",
    "UNK", "UST", "VIB",
}  # fmt: skip


def test_every_mode_that_is_printed_is_kept_and_one_more_from_memory():
    assert {one.code for one in FAILURE_MODES.values() if one.looked_up} == PRINTED_MODES
    assert {one.code for one in FAILURE_MODES.values() if not one.looked_up} == {"PLU"}


@pytest.mark.parametrize(
    ("code", "word"),
    # ISO 14224:2016, table B.2.
    [
        ("1.1", "leakage"),
        ("1.2", "vibration"),
        ("1.3", "clearance"),
        ("1.4", "deformation"),
        ("1.5", "looseness"),
        ("1.6", "sticking"),
        ("2.1", "cavitation"),
        ("2.2", "corrosion"),
        ("2.3", "erosion"),
        ("2.4", "wear"),
        ("2.5", "breakage"),
        ("2.6", "fatigue"),
        ("2.7", "overheating"),
    ],
)
def test_a_mechanism_means_what_the_table_says(code, word):
    assert word in FAILURE_MECHANISMS[code].words
    assert FAILURE_MECHANISMS[code].looked_up


@pytest.mark.parametrize(
    ("code", "word"),
    # ISO 15243:2017, headings of 5.1 to 5.6.
    [
        ("5.1", "fatigue"),
        ("5.2", "wear"),
        ("5.3", "corrosion"),
        ("5.4", "electrical erosion"),
        ("5.5", "plastic deformation"),
        ("5.6", "fracture"),
    ],
)
def test_a_damage_mode_of_bearings_means_what_its_heading_says(code, word):
    assert word in BEARING_DAMAGE[code].words
    assert BEARING_DAMAGE[code].looked_up


def test_what_was_not_looked_up_says_so():
    assert {one.code for one in BEARING_DAMAGE.values() if one.looked_up} == {"5.1", "5.2", "5.3", "5.4", "5.5", "5.6"}
    assert not FAILURE_MECHANISMS["2.8"].looked_up


def test_each_code_of_a_group_has_its_group():
    by_table = {one.table: {two.code for two in all_codes() if two.table == one.table} for one in all_codes()}
    for one in all_codes():
        assert not one.group or one.group in by_table[one.table], one.code


def test_a_seal_that_drips_is_an_outside_leak_by_leakage():
    # Worked example of common practice: what is pumped drips from the seal.
    assert removed_condition("ELP", "1.1") == "ELP/1.1"


def test_the_longest_condition_fits_where_it_is_kept():
    longest = removed_condition("VIB", "2.6", max(BEARING_DAMAGE, key=len))
    assert len(longest) <= (FittedPart._meta.get_field("removed_condition").max_length or 0)


def test_only_bearings_are_bearings():
    assert is_bearing("bearing-de")
    assert not is_bearing("shaft-seal")
