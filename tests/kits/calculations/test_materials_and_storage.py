"""Materials, lubricants, storage life and supersession, against standards and the general literature."""

import datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import kits
from kits.calculations.assembly_lubricants import lubricant_advice
from kits.calculations.storage_life import (
    CureUnreadable,
    StorageGroup,
    counting_group,
    expiry,
    extended_expiry,
    kit_expiry,
    parse_cure,
)
from kits.calculations.supersession import Link, Supersessions, closes_a_cycle
from services.api.trade_tables import read_trade_table
from tests.kits.calculations.shipped_tables import shipped_groups, shipped_tables, shipped_verdicts

DAY = datetime.date
# ISO 2230:2002, table of groups: initial period and its one extension in years.
A, B, C = StorageGroup("A", 5, 2), StorageGroup("B", 7, 3), StorageGroup("C", 10, 5)


class TestStorageLife:
    """ISO 2230:2002: groups A 5 + 2, B 7 + 3, C 10 + 5 years from cure."""

    def test_the_tables_carry_the_groups_of_the_standard(self):
        rows = {
            one["code"]: one
            for one in read_trade_table(kits.__file__, "storage_groups")
            if one["source"].startswith("ISO 2230:2002")
        }
        assert {code: (one["initial_years"], one["extension_years"]) for code, one in rows.items()} == {
            "A": ("5", "2"),
            "B": ("7", "3"),
            "C": ("10", "5"),
        }

    @pytest.mark.parametrize(
        ("material", "group"),
        [
            ("NR", "A"), ("IR", "A"), ("BR", "A"), ("SBR", "A"), ("AU", "A"), ("EU", "A"), ("NBR", "B"), ("HNBR", "B"),
            ("CR", "B"), ("IIR", "B"), ("ACM", "B"), ("ECO", "B"), ("EPDM", "C"), ("EPM", "C"), ("FKM", "C"),
            ("FFKM", "C"), ("VMQ", "C"), ("FVMQ", "C"), ("CSM", "C"),
        ],
    )  # fmt: skip
    def test_materials_are_in_the_groups_of_the_standard(self, material, group):
        counted = counting_group(shipped_groups(material))
        assert counted is not None
        assert counted.group.code == group

    def test_nitrile_cured_in_june_2018(self):
        """ISO 2230:2002, group B: inspected from July 2025 on, gone after June 2028."""
        cured = DAY(2018, 6, 30)
        assert (expiry(cured, B), extended_expiry(cured, B)) == (DAY(2025, 6, 30), DAY(2028, 6, 30))

    def test_fluorocarbon_cured_in_march_2016(self):
        """ISO 2230:2002, group C."""
        cured = DAY(2016, 3, 31)
        assert (expiry(cured, C), extended_expiry(cured, C)) == (DAY(2026, 3, 31), DAY(2031, 3, 31))

    def test_a_kit_ages_with_its_earliest_part(self):
        """EPDM of 1Q2020 keeps to 1Q2030, NBR of 3Q2021 to 3Q2028 (ISO 2230:2002; that the earliest counts for the kit
        is common practice, no source)."""
        parts = [(parse_cure("1Q2020"), C), (parse_cure("2021-Q3"), B), (DAY(2000, 1, 1), None)]
        assert kit_expiry(parts) == DAY(2028, 9, 30)
        assert kit_expiry([(DAY(2000, 1, 1), None)]) is None

    def test_a_leap_day_ends_on_the_twenty_eighth(self):
        """Common practice, no source."""
        assert expiry(DAY(2020, 2, 29), B) == DAY(2027, 2, 28)

    @pytest.mark.parametrize("text", ["", "5Q2025", "2025", "Q3", "31.12.2025", "2025-13-01"])
    def test_what_is_no_cure_date_is_refused_with_the_form_to_write(self, text):
        with pytest.raises(CureUnreadable, match="write 2025-08-14 or 3Q2025"):
            parse_cure(text)

    @given(st.dates(DAY(1990, 1, 1), DAY(2040, 12, 31)), st.sampled_from([A, B, C]))
    def test_the_extension_always_adds_its_years(self, cured, group):
        longer = extended_expiry(cured, group)
        assert longer.year - expiry(cured, group).year == group.extension_years
        assert expiry(cured, group) <= longer


def judged(material, family, low, high):
    return shipped_tables().judge(material, family, Decimal(low), Decimal(high)).result


class TestMaterials:
    """Screening statements of the general literature on elastomers: EPDM good in hot water, steam and alkali and bad in
    mineral oil; NBR and HNBR good in oil; FKM broad but not in hot water, steam, ketones; silicone bad in oil."""

    @pytest.mark.parametrize(
        ("material", "family", "celsius", "expected"),
        [
            ("EPDM", "water", 90, "suitable"),
            ("EPDM", "steam", 130, "suitable"),
            ("EPDM", "dilute-alkali", 60, "suitable"),
            ("EPDM", "mineral-oil", 60, "unsuitable"),
            ("NBR", "mineral-oil", 80, "suitable"),
            ("HNBR", "mineral-oil", 80, "suitable"),
            ("NBR", "water", 40, "suitable"),
            ("NBR", "water", 90, "unsuitable"),
            ("FKM", "ketone", 20, "unsuitable"),
            ("FKM", "steam", 130, "unsuitable"),
            ("FKM", "water", 90, "unsuitable"),
            ("VMQ", "mineral-oil", 60, "unsuitable"),
        ],
    )
    def test_screening(self, material, family, celsius, expected):
        assert judged(material, family, 10, celsius) == expected

    def test_between_two_rows_the_hotter_one_applies(self):
        assert judged("NBR", "water", 10, 60) == "suitable"
        assert judged("NBR", "water", 10, 61) == "unsuitable"

    def test_the_compounds_own_limit_outranks_a_good_rating(self):
        """HNBR is rated B in water to 100 degC, its hot-water limit is 100 degC; NBR bears oil only to 100 degC."""
        assert judged("HNBR", "water", 10, 100) == "limited"
        assert judged("HNBR", "water", 10, 101) == "unsuitable"
        assert judged("NBR", "mineral-oil", -31, 80) == "unsuitable"
        assert judged("NBR", "mineral-oil", -30, 80) == "suitable"

    def test_what_the_tables_do_not_know_is_said_not_guessed(self):
        assert judged("PTFE", "water", 10, 20) == "not-known"
        assert judged("EPDM", "molten-salt", 10, 20) == "not-known"

    @given(st.sampled_from(["NBR", "EPDM", "FKM"]), st.integers(-40, 140), st.integers(-40, 140))
    def test_two_pumps_between_the_same_cut_points_are_judged_alike(self, material, one, other):
        """What build classes rest on: between neighbouring cut points nothing changes."""
        shipped = shipped_tables()
        cuts = shipped.cut_points()
        brackets = [sum(1 for cut in cuts if cut < value) for value in (one, other)]
        if brackets[0] == brackets[1]:
            results = [shipped.judge(material, "water", Decimal(20), Decimal(value)).result for value in (one, other)]
            assert results[0] == results[1]

    def test_every_row_of_every_table_names_its_source(self):
        names = sorted(one.stem for one in (Path(kits.__file__).parent / "trade_tables").glob("*.csv"))
        assert len(names) == 12
        for name in names:
            assert all(one["source"].strip() for one in read_trade_table(kits.__file__, name)), name


def advice(*materials):
    return {one.lubricant: one.verdict for one in lubricant_advice(materials, shipped_verdicts(), {"soft-soap"})}


class TestLubricants:
    """Mineral grease swells EPDM; silicone grease swells silicone rubber (general literature on elastomers)."""

    def test_no_mineral_grease_on_epdm_but_silicone_grease_or_soft_soap(self):
        found = advice("EPDM")
        assert found["mineral-grease"] == "forbidden"
        assert (found["silicone-grease"], found["soft-soap"]) == ("ok", "ok")

    def test_no_silicone_grease_on_silicone_rubber(self):
        assert advice("VMQ")["silicone-grease"] == "forbidden"

    def test_of_several_elastomers_the_most_careful_verdict_counts(self):
        found = advice("NBR", "EPDM")
        assert advice("NBR")["mineral-grease"] == "ok"
        assert found["mineral-grease"] == "forbidden"

    def test_an_unknown_elastomer_gets_soft_soap_only(self):
        """Common practice, no source."""
        found = advice("SOMETHING")
        assert {name for name, verdict in found.items() if verdict == "ok"} == {"soft-soap"}


JAN, JUN = DAY(2026, 1, 1), DAY(2026, 6, 1)


class TestSupersession:
    def test_the_newer_serves_for_the_older_from_its_date_on(self):
        chain = Supersessions([Link("A", "B", JAN), Link("B", "C", JUN)])
        assert chain.serves("A", "C", DAY(2026, 5, 31)) is None
        assert chain.serves("A", "C", JUN) == ("A", "B", "C")

    def test_the_older_serves_for_the_newer_only_both_ways(self):
        assert Supersessions([Link("A", "B", JAN)]).serves("B", "A", JUN) is None
        assert Supersessions([Link("A", "B", JAN, both_ways=True)]).serves("B", "A", JUN) == ("B", "A")

    def test_the_end_of_the_chain_is_what_would_be_ordered(self):
        chain = Supersessions([Link("A", "B", JAN), Link("B", "C", JUN)])
        assert (chain.newest("A", DAY(2026, 3, 1)), chain.newest("A", JUN)) == ("B", "C")

    @given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), max_size=14))
    def test_links_taken_in_turn_never_close_a_circle(self, pairs):
        """Against a search over the whole graph, written here in another way: a depth-first walk."""
        kept: list[Link] = []
        for old, new in pairs:
            link = Link(old, new, JAN)
            if not closes_a_cycle(kept, link):
                kept.append(link)
        steps: dict[int, set[int]] = {}
        for one in kept:
            steps.setdefault(one.old, set()).add(one.new)

        def reaches_itself(start):
            waiting, seen = list(steps.get(start, ())), set()
            while waiting:
                here = waiting.pop()
                if here == start:
                    return True
                if here not in seen:
                    seen.add(here)
                    waiting.extend(steps.get(here, ()))
            return False

        assert not any(reaches_itself(one) for one in steps)
