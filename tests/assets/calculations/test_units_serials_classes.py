"""Units against scipy's constants, the order of serial numbers, build classes and hour readings."""

import uuid
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import constants

from assets.calculations.build_class import (
    between,
    build_class_key,
    lowest_bracket,
    relevant_variant_keys,
    temperature_bracket,
    variant_matches,
)
from assets.calculations.running_hours import HoursRefused, check_reading
from assets.calculations.serial_ranges import (
    SerialRange,
    just_after,
    normalise_serial,
    overlap,
    segment_of,
    serial_key,
    sorted_serials,
)
from assets.calculations.units import (
    NumberUnreadable,
    UnitMismatch,
    UnknownUnit,
    convert,
    known_units,
    parse_decimal,
    si_value,
)
from tests.pint_units import EXACT


class TestUnits:
    @pytest.mark.parametrize(
        ("value", "source", "target", "expected"),
        [
            ("1", "in", "mm", constants.inch * 1000),
            ("1", "bar", "kPa", constants.bar / 1000),
            ("1", "um", "mm", constants.micro * 1000),
            ("20", "degC", "K", constants.convert_temperature(20, "Celsius", "Kelvin")),
            ("212", "degF", "degC", constants.convert_temperature(212, "Fahrenheit", "Celsius")),
            ("1", "d", "h", constants.day / constants.hour),
            ("3600", "m3/h", "L", None),
        ],
    )
    def test_conversions_agree_with_scipys_constants(self, value, source, target, expected):
        if expected is None:
            with pytest.raises(UnitMismatch):
                convert(Decimal(value), source, target)
        else:
            assert float(convert(Decimal(value), source, target)) == pytest.approx(expected, rel=1e-12)

    @pytest.mark.parametrize("value", ["1", "0.3", "-12.345678", "1234567.891234"])
    def test_remembered_factors_give_to_the_last_place_what_pint_gives(self, value):
        registry = EXACT
        names = {"mm": "millimeter", "in": "inch", "um": "micrometer", "mil": "thou", "m": "meter"}
        names |= {"bar": "bar", "kPa": "kilopascal", "rpm": "revolution / minute", "degF": "degree_Fahrenheit"}
        for name, written in names.items():
            quantity = registry.Quantity(Decimal(value), written)
            assert si_value(Decimal(value), name) == quantity.to_base_units().magnitude
            for other, target in names.items():
                if quantity.dimensionality == registry.Quantity(1, target).dimensionality and name != other:
                    assert convert(Decimal(value), name, other) == quantity.to(target).magnitude

    def test_a_turn_is_two_pi_in_si(self):
        assert float(si_value(Decimal(60), "rpm")) == pytest.approx(2 * constants.pi, rel=1e-12)

    def test_decimals_stay_exact(self):
        assert convert(Decimal("50.011"), "mm", "um") == Decimal("50011")

    def test_a_unit_that_is_none_names_the_known_ones(self):
        with pytest.raises(UnknownUnit, match="degC"):
            convert(Decimal(1), "furlong", "mm")

    @given(st.sampled_from(known_units()), st.decimals("-1e6", "1e6", places=3))
    def test_there_and_back_is_the_same(self, unit, value):
        assert convert(convert(value, unit, unit), unit, unit) == value

    @pytest.mark.parametrize(
        ("text", "value"),
        [
            ("1,5", "1.5"),
            ("1.5", "1.5"),
            (" 1 234,5", "1234.5"),
            ("1.234,5", "1234.5"),
            ("1,234.5", "1234.5"),
            ("-2", "-2"),
        ],
    )
    def test_numbers_as_people_write_them(self, text, value):
        assert parse_decimal(text)[0] == Decimal(value)

    @pytest.mark.parametrize("text", ["", "abc", "1,2,3", "1e5", "NaN", "1.2.3"])
    def test_what_is_no_number_is_refused(self, text):
        with pytest.raises(NumberUnreadable):
            parse_decimal(text)


serials = st.text("ABC0123456789-", min_size=1, max_size=7)


class TestSerials:
    """Order of serial numbers: common practice, no source."""

    def test_digits_count_as_numbers(self):
        assert sorted_serials(["A10", "B1", "A9", "A10B"]) == ["A9", "A10", "A10B", "B1"]

    def test_spaces_and_small_letters_are_mended_with_a_note(self):
        assert normalise_serial("dl- 40120") == (
            "DL-40120",
            ["spaces taken out of the serial number", "serial number written in capitals"],
        )

    @given(serials, serials)
    def test_two_serials_stand_in_one_order(self, one, other):
        assert (serial_key(one) < serial_key(other)) + (serial_key(one) > serial_key(other)) + (
            serial_key(one) == serial_key(other)
        ) == 1

    @given(st.lists(serials, min_size=1, max_size=8), serials)
    def test_segments_part_exactly_what_a_range_parts(self, others, end):
        """A cut just after a range's end puts everything the range holds before it, and everything else after it."""
        cut = just_after(end)
        whole = SerialRange("", end)
        for one in others:
            assert (segment_of(one, [cut]) == 0) == whole.contains(one)

    @given(serials, serials, serials, serials)
    def test_ranges_overlap_exactly_where_some_serial_is_in_both(self, a, b, c, d):
        one, other = SerialRange(*sorted_serials([a, b])), SerialRange(*sorted_serials([c, d]))
        shared = any(one.contains(each) and other.contains(each) for each in (a, b, c, d))
        assert overlap(one, other) == shared

    def test_an_open_end_holds_everything_after(self):
        assert SerialRange("A5", "").contains("Z999")
        assert not SerialRange("A5", "").contains("A4")
        assert SerialRange("B", "A").is_empty()


class TestBuildClasses:
    def test_only_what_some_position_asks_about_tells_pumps_apart(self):
        relevant = relevant_variant_keys([{"elastomer": "EPDM"}, {}])
        fields: dict[str, Any] = {
            "model_id": uuid.UUID(int=1),
            "serials": (None, "B1"),
            "fluid_family": "water",
            "coldest": (None, Decimal(-30)),
            "hottest": (Decimal(60), Decimal(80)),
        }
        one = build_class_key(variant={"elastomer": "EPDM", "impeller": "209"}, relevant=relevant, **fields)
        other = build_class_key(variant={"elastomer": "EPDM", "impeller": "180"}, relevant=relevant, **fields)
        third = build_class_key(variant={"elastomer": "NBR"}, relevant=relevant, **fields)
        assert (one == other, one == third) == (True, False)

    def test_signs_in_a_variant_make_no_other_variant_of_it(self):
        relevant = frozenset({"a", "b"})
        fields: dict[str, Any] = {
            "model_id": uuid.UUID(int=1),
            "serials": (None, None),
            "fluid_family": "water",
            "coldest": (None, None),
            "hottest": (None, None),
        }
        one = build_class_key(variant={"a": "x;b=y"}, relevant=relevant, **fields)
        assert one != build_class_key(variant={"a": "x", "b": "y"}, relevant=relevant, **fields)
        assert len(build_class_key(variant={"a": "x" * 5000}, relevant=relevant, **fields)) < 300

    def test_a_further_cut_gives_both_pieces_another_key(self):
        fields: dict[str, Any] = {
            "model_id": uuid.UUID(int=1),
            "variant": {},
            "relevant": frozenset(),
            "fluid_family": "water",
            "coldest": (None, None),
        }
        before = build_class_key(serials=(None, None), hottest=between([Decimal(80)], 0), **fields)
        cuts = [Decimal(60), Decimal(80)]
        after = [build_class_key(serials=(None, None), hottest=between(cuts, place), **fields) for place in (0, 1, 2)]
        assert len({before, *after}) == 4

    def test_a_limit_counts_on_both_sides_as_materials_do(self):
        """A material's highest temperature and its lowest one both include their value."""
        cuts = [Decimal(-30), Decimal(80)]
        assert temperature_bracket(Decimal(80), cuts) == temperature_bracket(Decimal(20), cuts)
        assert temperature_bracket(Decimal("80.01"), cuts) != temperature_bracket(Decimal(80), cuts)
        assert lowest_bracket(Decimal(-30), cuts) == lowest_bracket(Decimal(20), cuts)
        assert lowest_bracket(Decimal("-30.01"), cuts) != lowest_bracket(Decimal(-30), cuts)

    def test_conditions_of_a_position(self):
        assert variant_matches({}, {"elastomer": "NBR"})
        assert variant_matches({"elastomer": "epdm"}, {"elastomer": "EPDM"})
        assert not variant_matches({"elastomer": "EPDM"}, {})


class TestHours:
    def test_a_meter_never_runs_backwards(self):
        with pytest.raises(HoursRefused, match="meter_change"):
            check_reading(hours=Decimal(99), meter_change=False, before=Decimal(100), after=None)
        check_reading(hours=Decimal(0), meter_change=True, before=Decimal(100), after=None)

    def test_a_reading_between_two_lies_between_them(self):
        check_reading(hours=Decimal(150), meter_change=False, before=Decimal(100), after=Decimal(200))
        with pytest.raises(HoursRefused, match="next reading"):
            check_reading(hours=Decimal(250), meter_change=False, before=Decimal(100), after=Decimal(200))

    def test_below_zero_there_is_nothing(self):
        with pytest.raises(HoursRefused):
            check_reading(hours=Decimal(-1), meter_change=True, before=None, after=None)
