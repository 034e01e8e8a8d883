"""Figures that several sources give: the most careful counts unless one is chosen, and the verdict says so."""

import datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assets.calculations.specification_base import ELASTOMERS
from kits.calculations.assembly_lubricants import LubricantRow, cautions_for, lubricant_advice, unknown_materials
from kits.calculations.material_suitability import LimitRow, RatingRow, SuitabilityTables
from kits.calculations.storage_life import GroupRow, StorageGroup, counting_group, parse_cure, storage_lives
from tests.kits.calculations.shipped_tables import (
    families,
    rows_of,
    shipped_cautions,
    shipped_groups,
    shipped_tables,
    shipped_verdicts,
)

DAY = datetime.date


def limits(*rows):
    """Tables in which NBR is good in oil to 200 degC; rows are (lowest, highest, source, reason of choice)."""
    return SuitabilityTables(
        [RatingRow("NBR", "mineral-oil", Decimal(200), "A", "a screening table")],
        [LimitRow("NBR", Decimal(low), Decimal(high), None, source, because) for low, high, source, because in rows],
        frozenset(),
    )


def at(tables, high, low=20, material="NBR", family="mineral-oil"):
    return tables.judge(material, family, Decimal(low), Decimal(high))


class TestLimits:
    """Suppliers' tables give nitrile -30 or -40 to +100 or +120 degC in air (value from memory)."""

    two = (("-30", "100", "one table", ""), ("-40", "120", "another table", ""))

    def test_the_narrower_limit_counts_and_the_verdict_says_that_sources_differ(self):
        found = at(limits(*self.two), 110)
        assert found.result == "unsuitable"
        told = " ".join(found.sentences)
        assert "Sources differ" in told
        assert "100 °C (one table)" in told
        assert "120 °C (another table)" in told
        assert "What counts is 100 °C, the most careful value." in told

    def test_so_does_the_higher_of_two_lowest_temperatures(self):
        assert at(limits(*self.two), 60, low=-35).result == "unsuitable"
        assert at(limits(*self.two), 60, low=-30).result == "suitable"

    def test_the_owner_may_choose_the_wider_one_and_the_reason_is_told(self):
        found = at(limits(self.two[0], ("-40", "120", "another table", "tested on our compound")), 110)
        assert found.result == "suitable"
        assert "What counts is 120 °C, chosen because: tested on our compound." in " ".join(found.sentences)

    def test_where_no_source_is_passed_nothing_is_said_but_the_difference_can_be_read(self):
        found = at(limits(*self.two), 60)
        assert found.result == "suitable"
        assert not [one for one in found.sentences if "differ" in one]
        assert [one.figure for one in found.differing] == ["the lowest temperature of NBR", "the limit of NBR"]
        assert [(one.value, one.counts) for one in found.differing[1].values] == [("100 °C", True), ("120 °C", False)]

    def test_a_chosen_row_that_is_silent_leaves_the_figure_to_the_others(self):
        silent = LimitRow("NBR", Decimal(-20), None, None, "our own", "tested")
        tables = SuitabilityTables([], [silent, LimitRow("NBR", None, Decimal(90), None, "a table")], frozenset())
        assert at(tables, 95).result == "unsuitable"
        assert at(tables, 80, low=-25).result == "unsuitable"

    def test_beyond_a_limit_it_fails_though_no_table_rates_it(self):
        tables = SuitabilityTables([], [LimitRow("NBR", None, Decimal(90), None, "a table")], frozenset())
        assert (at(tables, 95).result, at(tables, 80).result) == ("unsuitable", "not-known")


def ratings(*rows):
    """Tables in which FKM has the limits of no temperature; rows are (up to, rating, source, reason of choice)."""
    return SuitabilityTables(
        [RatingRow("FKM", "water", Decimal(up), rating, source, "", why) for up, rating, source, why in rows],
        [LimitRow("FKM", Decimal(-100), Decimal(500), None, "wide")],
        frozenset({"water"}),
    )


class TestRatings:
    def judged(self, tables, high):
        found = at(tables, high, material="FKM", family="water")
        return found.result, found.rating

    def test_each_source_is_read_on_its_own_and_the_worse_rating_counts(self):
        tables = ratings(("60", "A", "one", ""), ("100", "C", "one", ""), ("80", "B", "other", ""))
        assert self.judged(tables, 50) == ("limited", "B")
        assert self.judged(tables, 70) == ("unsuitable", "C")

    def test_a_source_that_goes_no_further_is_named(self):
        tables = ratings(("100", "B", "one", ""), ("80", "B", "other", ""))
        found = at(tables, 90, material="FKM", family="water")
        assert found.result == "limited"
        assert "Another source rates it only up to 80 °C (other)." in found.sentences

    def test_hotter_than_every_source_it_is_unsuitable(self):
        assert self.judged(ratings(("100", "A", "one", ""), ("80", "A", "other", "")), 101) == ("unsuitable", "")

    def test_a_chosen_rating_counts_before_a_worse_one_and_says_why(self):
        tables = ratings(("80", "C", "one", ""), ("80", "B", "the data sheet", "the grade we stock"))
        found = at(tables, 80, material="FKM", family="water")
        assert (found.result, found.rating) == ("limited", "B")
        assert "chosen because: the grade we stock" in " ".join(found.sentences)

    @given(
        st.lists(
            st.tuples(
                st.sampled_from(["40", "60", "80", "100"]),
                st.sampled_from("ABCX"),
                st.sampled_from(["one", "two", "three"]),
                st.sampled_from(["", "", "chosen"]),
            ),
            min_size=1,
            max_size=8,
            unique_by=lambda row: (row[0], row[2]),
        ),
        st.integers(0, 110),
    )
    def test_it_agrees_with_reading_each_source_by_hand(self, rows, celsius):
        """Written another way: one source after the other, over its own sorted rows."""
        found = at(ratings(*rows), celsius, low=0, material="FKM", family="water")
        readings = []
        for source in {row[2] for row in rows}:
            hot = sorted(
                (Decimal(up), rating, why) for up, rating, one, why in rows if one == source and int(up) >= celsius
            )
            readings += hot[:1]
        counting = [one for one in readings if one[2]] or readings
        assert found.rating == max((one[1] for one in counting), default="")
        cuts = ratings(*rows).cut_points()
        brackets = {sum(1 for cut in cuts if cut < value) for value in (celsius, celsius + 1)}
        if len(brackets) == 1:
            assert at(ratings(*rows), celsius + 1, material="FKM", family="water").result == found.result


class TestStorage:
    """ISO 2230:2002 gives nitrile 7 + 3 years; lists of the trade give 3, 7 + 2 or 15 (value from memory)."""

    def test_the_shortest_life_counts_unless_one_is_chosen(self):
        rows = [GroupRow(StorageGroup("B", 7, 3), "ISO 2230:2002"), GroupRow(StorageGroup("3+0", 3, 0), "a list")]
        assert counting_group(rows) is rows[1]
        rows[0] = GroupRow(rows[0].group, rows[0].source, "the standard")
        assert counting_group(rows) is rows[0]
        assert counting_group([]) is None

    def test_nitrile_of_june_2018_after_every_source(self):
        """ISO 2230:2002, group B, counts as shipped; in January 2026 it is inspected before it is used."""
        lives = storage_lives(DAY(2018, 6, 30), shipped_groups("NBR"))
        assert (lives[0].initial_end, lives[0].extension_end) == (DAY(2025, 6, 30), DAY(2028, 6, 30))
        assert lives[0].state_on(DAY(2026, 1, 1)) == "inspect"
        assert lives[0].state_on(DAY(2025, 6, 30)) == "in-date"
        assert lives[0].state_on(DAY(2028, 7, 1)) == "past"
        assert [one.initial_end.year for one in lives[1:]] == [2021, 2025, 2033]
        assert [one.counts for one in lives] == [True, False, False, False]

    def test_fluorocarbon_of_the_first_quarter_of_2016(self):
        """ISO 2230:2002, group C; a quarter counts as its last day."""
        counted = storage_lives(parse_cure("1Q2016"), shipped_groups("FKM"))[0]
        assert (counted.initial_end, counted.extension_end) == (DAY(2026, 3, 31), DAY(2031, 3, 31))


class TestLubricants:
    def test_where_sources_differ_the_more_careful_verdict_counts_and_both_are_told(self):
        rows = [
            LubricantRow("FKM", "pfpe-grease", "Grease", "ok", source="one"),
            LubricantRow("FKM", "pfpe-grease", "Grease", "check", source="other"),
        ]
        (found,) = lubricant_advice(["FKM"], rows, set())
        assert found.verdict == "check"
        assert found.differing == ("ok (one)", "check (other)", "What counts is check, the most careful verdict.")
        rows[0] = LubricantRow("FKM", "pfpe-grease", "Grease", "ok", source="one", chosen_because="its data sheet")
        assert lubricant_advice(["FKM"], rows, set())[0].verdict == "ok"

    def test_an_unknown_elastomer_brings_its_caution_and_seal_faces_always_theirs(self):
        """Common practice, no source."""
        known = lubricant_advice(["NBR"], shipped_verdicts(), {"soft-soap"})
        codes = [one.code for one in cautions_for(shipped_cautions(), known, any_unknown=False)]
        assert "seal-faces-dry" in codes
        assert "silicone-paint" in codes
        assert "unknown-elastomer" not in codes
        assert unknown_materials(["NBR", "XNBR"], shipped_verdicts()) == ["XNBR"]
        unknown = lubricant_advice(["XNBR"], shipped_verdicts(), {"soft-soap"})
        codes = [one.code for one in cautions_for(shipped_cautions(), unknown, any_unknown=True)]
        assert "unknown-elastomer" in codes
        assert "silicone-paint" not in codes
        silicone = lubricant_advice(["VMQ"], shipped_verdicts(), {"soft-soap"})
        cautions = cautions_for(shipped_cautions(), silicone, any_unknown=False)
        assert "silicone-paint" not in [one.code for one in cautions]

    def test_what_is_usable_comes_first(self):
        order = [one.verdict for one in lubricant_advice(["EPDM", "FKM"], shipped_verdicts(), {"soft-soap"})]
        assert order == sorted(order, key=["ok", "check", "avoid", "forbidden"].index)


class TestWhatIsShipped:
    def test_every_elastomer_has_limits_a_storage_group_and_a_known_name(self):
        """Codes after ISO 1629 (letters value from memory): M saturated chain, R unsaturated, Q silicone, U urethane,
        O with ether."""
        for code in ELASTOMERS:
            assert shipped_groups(code), code
            assert counting_group(shipped_groups(code)) is not None
            assert any(one["material"] == code for one in rows_of("material_limits")), code
            assert code[-1] in "MRQUO" or code in {"AU", "EU"}, code
        assert {one["code"] for one in rows_of("materials")} == set(ELASTOMERS)

    def test_every_elastomer_has_a_rating_in_every_family_or_is_said_to_be_not_known(self):
        tables = shipped_tables()
        rated = {one["material"] for one in rows_of("material_ratings")}
        assert rated == {"NBR", "HNBR", "EPDM", "FKM", "FFKM", "VMQ", "CR"}
        for code in ELASTOMERS:
            for family in families():
                found = at(tables, 40, material=code, family=family)
                assert (found.result == "not-known") == (code not in rated), (code, family)
                assert found.sentences

    @pytest.mark.parametrize(
        ("material", "family", "celsius"),
        [("EPDM", "mineral-oil", 40), ("FKM", "ketone", 20), ("FKM", "steam", 130), ("FKM", "ester", 20)],
    )
    def test_what_must_not_be_used(self, material, family, celsius):
        """General literature on elastomers: EPDM swells in mineral oil, FKM in acetone, and standard FKM fails in steam
        (value from memory)."""
        assert at(shipped_tables(), celsius, material=material, family=family).result == "unsuitable"

    def test_sources_differ_on_nitrile_and_on_perfluorocarbon(self):
        """Nitrile 100 or 120, perfluorocarbon 260 or 325 degC, by compound (value from memory)."""
        tables = shipped_tables()
        for material, values in (("NBR", {"100 °C", "120 °C"}), ("FFKM", {"260 °C", "325 °C"})):
            found = at(tables, 40, material=material)
            told = {
                one.value
                for each in found.differing
                if each.figure == f"the limit of {material}"
                for one in each.values
            }
            assert told == values
        assert at(tables, 110).result == "unsuitable"
