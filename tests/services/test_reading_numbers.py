"""Numbers, units, dates and codes as people and spreadsheets leave them: mended where one reading is possible."""

import csv
import datetime
import io
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904, CALENDAR_WINDOWS_1900, from_excel, to_excel

from assets.calculations.written_units import convert_written
from services.api.loading import Column, LoadKind
from services.bulk_loads.reading import CSV, Reading, read_file
from services.bulk_loads.reading.moments import DAY_ZERO_1904, from_serial
from services.bulk_loads.reading.numbers import from_float
from tests.pint_units import EXACT

KIND = LoadKind(
    "things",
    load=lambda *, by, rows: [],
    key=("tag",),
    columns=(
        Column("tag", required=True),
        Column("cost", "decimal"),
        Column("diameter_mm", "decimal", unit="mm", places=3, convert=convert_written),
        Column("temperature_c", "decimal", unit="degC", places=2, convert=convert_written),
        Column("power_kw", "decimal", unit="kW", places=3, convert=convert_written),
        Column("lead_time_d", "decimal", unit="d", places=2, convert=convert_written),
        Column("quantity", "integer"),
        Column("due", "date"),
        Column("read_at", "datetime"),
        Column("criticality", "choice", choices=("vital", "essential")),
    ),
)


def rows_of(column, *texts, reading=None):
    out = io.StringIO()
    csv.writer(out).writerows([["tag", column], *([f"P-{n}", text] for n, text in enumerate(texts))])
    return read_file(KIND, out.getvalue().encode(), CSV, reading or Reading())


def cell(column, text, **how):
    """(value, notes, problems with remedies) of one cell in a CSV."""
    one = rows_of(column, text, reading=Reading(**how))[0]
    notes = [note.detail for note in one.notes]
    return one.row.values.get(column), notes, [(bad.detail, bad.remedy) for bad in one.problems]


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1.234,5", "1234.5"), ("1,234.5", "1234.5"), ("1 234,5", "1234.5"), ("1\u00a0234,5", "1234.5"),
        ("1\u202f234.5", "1234.5"), ("1'234.50", "1234.50"), ("1.234.567", "1234567"), ("1,234,567", "1234567"),
        ("1.234.567,8", "1234567.8"), ("1234,567", "1234.567"), ("0,125", "0.125"), ("12,5", "12.5"),
        ("\u22123,5", "-3.5"), ("\u201312.5", "-12.5"), ("+7", "7"), ("12.300000000000001", "12.3"),
        ("0.30000000000000004", "0.3"),
    ],
)  # fmt: skip
def test_a_number_with_one_possible_reading_is_read(text, value):
    read, notes, problems = cell("cost", text)
    assert (read, problems) == (Decimal(value), [])
    assert bool(notes) == (text != "+7")


def test_one_thousand_two_hundred_or_one_and_a_bit_is_asked_back():
    read, _, [(words, remedy)] = cell("cost", "1,234")
    assert (read, words) == (None, "It could be 1234 or 1.234.")
    assert "Write 1234 or 1.234" in remedy
    assert "mapping" in remedy


def test_a_mapping_that_names_the_decimal_mark_settles_it():
    assert cell("cost", "1,234", decimal_mark=",")[0] == Decimal("1.234")
    assert cell("cost", "1,234", decimal_mark=".")[0] == Decimal(1234)
    assert cell("cost", "1.234", decimal_mark=",")[0] == Decimal(1234)
    assert cell("cost", "1.23", decimal_mark=",")[2][0][0] == "It is no number."


def test_among_decimal_commas_a_point_before_three_digits_is_asked_back():
    first, second = rows_of("cost", "12,5", "1.234")
    assert first.row.values["cost"] == Decimal("12.5")
    assert second.problems[0].detail.startswith("It could be 1234 or 1.234")
    assert rows_of("cost", "12.5", "1.234")[1].row.values["cost"] == Decimal("1.234")


GROUPING = st.sampled_from(["", ".", ",", " ", "'", "\u00a0"])


@given(st.decimals(-(10**9), 10**9, places=2, allow_nan=False), GROUPING, st.sampled_from([".", ","]))
def test_grouped_numbers_come_back_whatever_the_separators(number, group, mark):
    # The text is made by Python's own grouping, then its separators exchanged.
    if group == mark:
        return
    text = f"{number:,.2f}".replace(",", "G").replace(".", "M").replace("G", group).replace("M", mark)
    assert cell("cost", text)[0] == number


@given(st.floats(-1e9, 1e9).map(lambda one: round(one, 6)), st.integers(-3, 3))
def test_noise_of_binary_fractions_is_taken_off_and_nothing_else(number, ulps):
    noisy = number
    for _ in range(abs(ulps)):
        noisy += (1 if ulps > 0 else -1) * abs(number) * 2**-53
    value, _ = from_float(noisy)
    # Fifteen digits are what every double keeps: IEEE 754-2019 binary64, 53 bits of significand.
    assert value == Decimal(format(noisy, ".15g"))
    assert abs(value - Decimal(number)) <= abs(Decimal(number)) * Decimal("1e-14")


class TestUnits:
    @pytest.mark.parametrize(
        ("column", "text", "value"),
        [
            # BS 350 and NIST SP 811 (2008) B.8: the inch is 25.4 mm, the horsepower (550 ft lbf/s) 745.6999 W,
            # the metric one 735.4988 W, t/°C = (t/°F - 32)/1.8.
            ("diameter_mm", "0.5 in", "12.7"), ("diameter_mm", '0.5"', "12.7"), ("diameter_mm", "12.5 mm", "12.5"),
            ("diameter_mm", "12,5mm", "12.5"), ("diameter_mm", "2 inches", "50.8"), ("diameter_mm", "4.5 cm", "45"),
            ("temperature_c", "194 F", "90"), ("temperature_c", "194 °F", "90"), ("temperature_c", "90 °C", "90"),
            ("temperature_c", "-40F", "-40"), ("temperature_c", "363.15 K", "90"), ("temperature_c", "90 ℃", "90"),
            ("power_kw", "7.5 kW", "7.5"), ("power_kw", "10 HP", "7.457"), ("power_kw", "10 PS", "7.355"),
            ("power_kw", "5500 W", "5.5"), ("lead_time_d", "6 weeks", "42"), ("lead_time_d", "12 h", "0.5"),
        ],
    )  # fmt: skip
    def test_a_unit_written_in_the_cell_is_converted_and_noted(self, column, text, value):
        read, notes, problems = cell(column, text)
        assert (read, problems) == (Decimal(value), [])
        assert f"{value} " in notes[-1]

    @pytest.mark.parametrize(
        ("column", "text", "words"),
        [
            ("diameter_mm", "12 kW", "do not measure the same thing"),
            ("diameter_mm", "12 furlong", "is no unit known here"),
            ("diameter_mm", "1,234 mm", "It could be 1234 or 1.234."),
            ("diameter_mm", "approx. 12 mm", "It is no number."),
            ("cost", "12 mm", "It is no number."),
        ],
    )
    def test_a_unit_that_cannot_be_is_a_problem(self, column, text, words):
        read, _, [(told, remedy)] = cell(column, text)
        assert read is None
        assert words in told
        assert remedy

    def test_a_mapping_names_the_unit_of_bare_numbers_and_a_written_one_goes_before(self):
        assert cell("diameter_mm", "0.5", units={"diameter_mm": "in"})[0] == Decimal("12.7")
        assert cell("diameter_mm", "12 mm", units={"diameter_mm": "in"})[0] == Decimal(12)

    @given(
        st.decimals(0, 9000, places=3, allow_nan=False),
        st.sampled_from([("in", "inch"), ("mm", "millimeter"), ("cm", "centimeter"), ("m", "meter")]),
    )
    def test_lengths_agree_with_pint(self, number, units):
        ours, theirs = units
        expected = Decimal(EXACT.Quantity(number, theirs).to("millimeter").magnitude)
        assert cell("diameter_mm", f"{number} {ours}")[0] == expected.quantize(Decimal("0.001"), ROUND_HALF_EVEN)

    @given(st.decimals(-400, 900, places=1, allow_nan=False))
    def test_temperatures_agree_with_the_formula_of_the_scale(self, number):
        expected = ((number - 32) * 5 / 9).quantize(Decimal("0.01"), ROUND_HALF_EVEN)
        assert abs(cell("temperature_c", f"{number} °F")[0] - expected) <= Decimal("0.01")


class TestDates:
    @pytest.mark.parametrize(
        ("text", "day"),
        [
            ("31.12.2025", "2025-12-31"), ("3.4.2025", "2025-04-03"), ("31/12/2025", "2025-12-31"),
            ("12/31/2025", "2025-12-31"), ("04/04/2025", "2025-04-04"), ("2025-12-31T00:00:00", "2025-12-31"),
            ("2025-12-31 00:00", "2025-12-31"), ("2025/12/31", "2025-12-31"), ("45321", "2024-01-30"),
        ],
    )  # fmt: skip
    def test_a_date_with_one_possible_reading_is_read_and_noted(self, text, day):
        read, notes, problems = cell("due", text)
        assert (read, notes, problems) == (datetime.date.fromisoformat(day), [f"read as {day}"], [])

    def test_the_third_of_april_or_the_fourth_of_march_is_asked_back(self):
        _, _, [(words, remedy)] = cell("due", "03/04/2025")
        assert words == "It could be 2025-04-03 or 2025-03-04."
        assert "mapping" in remedy
        assert cell("due", "03/04/2025", date_form="day-first")[0] == datetime.date(2025, 4, 3)
        assert cell("due", "03/04/2025", date_form="month-first")[0] == datetime.date(2025, 3, 4)

    @pytest.mark.parametrize("text", ["31.12.25", "2025", "31.02.2025", "99999", "13/13/2025", "1.1.2025 at noon"])
    def test_what_is_no_date_is_a_problem(self, text):
        assert cell("due", text)[2][0][0] == "It is no date."

    def test_times_of_people_and_of_spreadsheets(self):
        moment = datetime.datetime(2024, 1, 30, 6, tzinfo=datetime.UTC)
        assert cell("read_at", "45321.25")[0] == cell("read_at", "30.01.2024 06:00")[0] == moment
        assert "could be" in cell("read_at", "03/04/2025 06:00")[2][0][0]

    @given(st.dates(datetime.date(1930, 1, 1), datetime.date(2129, 12, 31)), st.times())
    def test_day_numbers_agree_with_another_hand(self, day, time):
        # openpyxl's conversion after ECMA-376 part 1, 18.17.4.
        moment = datetime.datetime.combine(day, time.replace(microsecond=0))
        for calendar, zero in ((CALENDAR_WINDOWS_1900, None), (CALENDAR_MAC_1904, DAY_ZERO_1904)):
            number = to_excel(moment, calendar)
            read = from_serial(number, zero)[1] if zero else from_serial(number)[1]
            assert from_excel(number, calendar) - read.replace(tzinfo=None) < datetime.timedelta(seconds=1)
            assert read.date() == day


class TestCodes:
    @pytest.mark.parametrize("text", ["1.23E+05", "1E5", "1,23E+11"])
    def test_a_number_that_a_spreadsheet_shortened_is_refused_with_the_way_out(self, text):
        one = read_file(KIND, f'tag,cost\n"{text}",1\n'.encode(), CSV)[0]
        assert one.problems[0].detail == "It looks like a number that a spreadsheet shortened."
        assert "as text" in one.problems[0].remedy

    def test_among_padded_codes_a_shorter_one_is_noted(self):
        rows = read_file(KIND, b"tag,cost\n00123,1\n00124,1\n125,1\nX-9,1\n", CSV)
        assert [[note.detail for note in one.notes] for one in rows] == [
            [], [], ["may have lost leading zeros: other rows have 5 digits, such as 00125"], [],
        ]  # fmt: skip
        assert rows[2].row.values["tag"] == "125"

    def test_without_padded_codes_short_numbers_are_just_numbers(self):
        assert not read_file(KIND, b"tag,cost\n125,1\n12,1\n", CSV)[0].notes

    def test_blanks_and_underscores_in_a_choice_make_no_difference(self):
        assert cell("criticality", "Vital\u00a0")[0] == "vital"

    def test_what_looks_like_a_date_in_place_of_a_number_is_noted(self):
        one = read_file(KIND, b"tag,cost\n12-May,1\n", CSV)[0]
        assert "looks like a date" in one.notes[0].detail


class TestRepeatedRows:
    def test_the_same_row_again_is_told_and_a_contradiction_is_refused(self):
        rows = read_file(KIND, b"tag,cost,due\nA,1.0,2025-01-02\nA,1.00,02.01.2025\nA,-2,\nB,1,\n", CSV)
        assert [one.repeats for one in rows] == [None, 2, None, None]
        assert rows[1].notes[-1].detail == "the same as row 2"
        assert rows[2].problems[0].detail == "Row 2 has the same key and other values."

    def test_minus_one_is_not_minus_two(self):
        # Python's hash(-1) equals hash(-2).
        rows = read_file(KIND, b"tag,cost,quantity\nA,-1,-1\nA,-2,-1\nB,1,-1\nB,1,-2\n", CSV)
        assert [bool(one.problems) for one in rows] == [False, True, False, True]


class TestTranslations:
    def test_words_of_the_file_become_ours(self):
        how = {"translations": {"criticality": {"A": "vital", "B": "essential"}}}
        assert cell("criticality", "a ", **how)[0] == "vital"
        assert cell("criticality", "essential", **how)[0] == "essential"
        assert cell("criticality", "C", **how)[2][0][0].startswith("It is none of those possible.")

    def test_a_constant_stands_for_a_column_that_the_file_lacks(self):
        rows = read_file(
            KIND, b"Equipment\nP-1\n", CSV, Reading(columns={"equipment": "tag"}, constants={"cost": "2,5"})
        )
        assert (rows[0].row.values["tag"], rows[0].row.values["cost"]) == ("P-1", Decimal("2.5"))
