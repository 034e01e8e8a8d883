"""Workbooks as spreadsheets leave them, written by another hand (openpyxl), read into rows."""

import datetime
import io
import zipfile
from decimal import Decimal

import openpyxl
import pytest

from assets.calculations.written_units import convert_written
from services.api.loading import Column, LoadKind
from services.bulk_loads.reading import XLSX, Reading, read_file
from services.bulk_loads.reading.rows import look_through
from services.bulk_loads.refusals import FileUnreadable

KIND = LoadKind(
    "things",
    load=lambda *, by, rows: [],
    columns=(
        Column("tag", required=True),
        Column("serial_number"),
        Column("cost", "decimal"),
        Column("diameter_mm", "decimal", unit="mm", places=3, convert=convert_written),
        Column("hours", "decimal", unit="h", places=1, convert=convert_written),
        Column("quantity", "integer"),
        Column("mandatory", "yes_no"),
        Column("due", "date"),
        Column("read_at", "datetime"),
        Column("cure_date", may_be_date=True),
    ),
)


def at(year, month, day, hour=0, minute=0):
    """A moment without a zone, which is all that a workbook knows."""
    return datetime.datetime(year, month, day, hour, minute, tzinfo=datetime.UTC).replace(tzinfo=None)


def book(*rows, title="Pumps", merged=(), others=()):
    """The bytes of a workbook; ``others`` are empty or filled sheets before the one with the rows."""
    made = openpyxl.Workbook()
    for number, (name, other) in enumerate(others):
        sheet = made.create_sheet(name, number)
        for row in other:
            sheet.append(row)
    sheet = made.worksheets[-1]
    sheet.title = title
    for row in rows:
        sheet.append(row)
    for one in merged:
        sheet.merge_cells(one)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def changed(content, edit, part="xl/worksheets/sheet1.xml"):
    """The workbook with one of its parts edited."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, edit(old.read(name)) if name == part else old.read(name))
    return out.getvalue()


def read(content, **how):
    return read_file(KIND, content, XLSX, Reading(**how))


def cell(column, value):
    """(value, notes, problems) of one cell."""
    one = read(book(["tag", column], ["P-117", value]))[0]
    return one.row.values.get(column), [note.detail for note in one.notes], [bad.detail for bad in one.problems]


@pytest.mark.parametrize(
    ("column", "written", "value"),
    [
        ("cost", 12.5, Decimal("12.5")),
        ("cost", 1200, Decimal(1200)),
        ("cost", "12.5", Decimal("12.5")),
        ("quantity", 12.0, 12),
        ("quantity", "12", 12),
        ("mandatory", True, True),
        ("mandatory", "no", False),
        ("due", datetime.date(2025, 12, 31), datetime.date(2025, 12, 31)),
        (
            "read_at",
            at(2025, 12, 31, 6, 30),
            datetime.datetime(2025, 12, 31, 6, 30, tzinfo=datetime.UTC),
        ),
        ("serial_number", 20195, "20195"),
        ("serial_number", "00123", "00123"),
        ("serial_number", "NB2020-1", "NB2020-1"),
        ("serial_number", "1E5", "1E5"),
        ("cure_date", datetime.date(2025, 8, 14), "2025-08-14"),
        ("cost", None, None),
    ],
)
def test_a_cell_keeps_the_type_that_the_workbook_gives_it(column, written, value):
    assert cell(column, written) == (value, [], [])


@pytest.mark.parametrize(
    ("column", "written", "value", "note"),
    [
        ("due", 45321, datetime.date(2024, 1, 30), "a spreadsheet's day number, read as 2024-01-30"),
        ("due", at(2025, 12, 31, 14), datetime.date(2025, 12, 31), "the time of day left out"),
        ("diameter_mm", "0.5 in", Decimal("12.7"), "0.5 in read as 12.7 mm"),
        ("hours", datetime.timedelta(hours=1234, minutes=30), Decimal("1234.5"), "read as 1234.5 h"),
        ("serial_number", 12.1, "12.1", "zeros at its end may be lost"),
    ],
)
def test_what_the_workbook_bent_is_mended_and_noted(column, written, value, note):
    found, notes, problems = cell(column, written)
    assert (found, problems) == (value, [])
    assert note in notes[-1]


def test_the_noise_of_a_binary_fraction_is_taken_off():
    content = changed(book(["tag", "cost"], ["A", 12.3]), lambda xml: xml.replace(b"12.3<", b"12.300000000000002<"))
    one = read(content)[0]
    assert one.row.values["cost"] == Decimal("12.3")
    assert one.notes[0].detail == "noise of binary fractions taken off: 12.3"


@pytest.mark.parametrize(
    ("column", "written", "problem"),
    [
        ("cost", datetime.date(2025, 5, 12), "A spreadsheet turned it into a date."),
        ("serial_number", datetime.date(2025, 5, 12), "A spreadsheet turned it into a date."),
        ("serial_number", 1234567890123456, "only 15 digits"),
        ("quantity", 2.5, "It is no whole number."),
        ("cost", datetime.time(6, 30), "It is a time of day."),
        ("due", 3, "It is no date."),
    ],
)
def test_what_cannot_be_told_any_more_is_a_problem(column, written, problem):
    value, _, problems = cell(column, written)
    assert value is None
    assert problem in problems[0]


@pytest.mark.parametrize("error", ["#N/A", "#DIV/0!", "#REF!", "#VALUE!"])
def test_an_error_is_refused_with_row_column_value_and_remedy(error):
    rows = read(book(["tag", "cost"], ["A", 1], ["B", error], ["C", 3]))
    assert [bool(one.problems) for one in rows] == [False, True, False]
    problem = rows[1].problems[0]
    assert (rows[1].row.number, problem.column, problem.value) == (3, "cost", error)
    assert problem.remedy == "Correct the formula."


def test_a_formula_gives_its_value_and_one_never_worked_out_is_refused():
    content = book(["tag", "cost"], ["A", "=1+1"], ["B", "=2+2"])
    worked = changed(content, lambda xml: xml.replace(b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"))
    assert worked != content
    first, second = read(worked)
    assert (first.row.values["cost"], first.problems) == (Decimal(2), [])
    assert "never worked out" in second.problems[0].detail


def test_the_first_sheet_with_anything_is_read_unless_one_is_named():
    content = book(["tag"], ["A"], others=[("Cover", []), ("Old", [["tag"], ["Z"]])])
    assert [one.row.values["tag"] for one in read(content)] == ["Z"]
    assert [one.row.values["tag"] for one in read(content, sheet="Pumps")] == ["A"]
    assert look_through(KIND, content, XLSX)[1] == ["The sheet 'Old' was read."]
    with pytest.raises(FileUnreadable, match="Did you mean 'Pumps'") as caught:
        read(content, sheet="Pump")
    assert caught.value.remedy == "Its sheets are: Cover, Old, Pumps."


def test_titles_above_the_header_are_passed_over_and_rows_keep_their_numbers():
    content = book(["Fennmark Utilities"], [], ["As of today", "draft"], ["tag", "cost"], ["A", 5])
    assert [(one.row.number, one.row.values["tag"]) for one in read(content)] == [(5, "A")]
    assert look_through(KIND, content, XLSX)[1] == ["The header was found in row 4; what stands above was passed over."]


def test_two_header_rows_that_name_columns_together_are_joined():
    content = book(
        ["Tag", "Serial", "Diameter", "Read"],
        [None, "number", "mm", "at"],
        ["A", "N1", 43, at(2025, 1, 2)],
        merged=["A1:A2"],
    )
    kind = LoadKind("things", load=KIND.load, columns=tuple(
        Column(one.name, one.type, required=one.name in {"tag", "diameter_mm"}) for one in KIND.columns
    ))  # fmt: skip
    row = read_file(kind, content, XLSX)[0].row.values
    assert (row["tag"], row["serial_number"], row["diameter_mm"]) == ("A", "N1", Decimal(43))
    assert "Rows 1 and 2 were read as one header." in look_through(kind, content, XLSX)[1]


def test_headers_differing_in_case_blanks_and_brackets_are_matched_with_a_note():
    content = book(["TAG", "Serial Number", "Diameter (mm)"], ["A", "N1", 5])
    assert read(content)[0].row.values["diameter_mm"] == 5
    assert "'Diameter (mm)' was read as the column diameter_mm." in look_through(KIND, content, XLSX)[1]


def test_a_cell_merged_down_a_column_fills_the_rows_below_with_a_note():
    content = book(["tag", "serial_number"], ["A", "N1"], ["B", None], ["C", None], ["D", "N2"], merged=["B2:B4"])
    rows = read(content)
    assert [one.row.values["serial_number"] for one in rows] == ["N1", "N1", "N1", "N2"]
    assert [[note.detail for note in one.notes] for one in rows] == [
        [], ["filled in from the merged cell above"], ["filled in from the merged cell above"], [],
    ]  # fmt: skip


def test_a_cell_merged_across_columns_is_refused_in_its_row():
    rows = read(book(["tag", "serial_number"], ["A", "N1"], ["North hall", None], merged=["A3:B3"]))
    assert [[bad.detail for bad in one.problems] for one in rows] == [[], ["The cell is merged across columns."] * 2]


def test_empty_rows_and_columns_at_the_ends_are_nothing_and_a_cell_without_a_header_is_told():
    rows = read(book(["tag", "cost", None], ["A", 1, None], [], ["B", 1, "hm"], [None, " ", None]))
    assert [(one.row.number, [bad.detail for bad in one.problems]) for one in rows] == [
        (2, []), (4, ["It stands under no header."]),
    ]  # fmt: skip


def test_a_number_among_padded_codes_may_have_lost_its_zeros():
    rows = read(book(["tag", "serial_number"], ["A", "00123"], ["B", 124]))
    assert "may have lost leading zeros" in rows[1].notes[0].detail


def test_days_counted_from_1904_are_read_as_such():
    made = openpyxl.Workbook()
    made.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    made.active.append(["tag", "due"])
    made.active.append(["A", datetime.date(2025, 12, 31)])
    made.active.append(["B", openpyxl.utils.datetime.to_excel(datetime.date(2025, 12, 31), made.epoch)])
    made.active.append(["C", openpyxl.utils.datetime.to_excel(datetime.date(2025, 12, 31), made.epoch)])
    out = io.BytesIO()
    made.save(out)
    assert {one.row.values["due"] for one in read(out.getvalue())} == {datetime.date(2025, 12, 31)}


class TestWhatIsNoWorkbook:
    @pytest.mark.parametrize(
        ("content", "words"),
        [
            (b"tag\nA\n", "no XLSX workbook"),
            (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "password"),
            (book()[:-500], "no XLSX workbook"),
            (book(), "empty"),
            (changed(book(["tag"]), lambda xml: b"", part="xl/workbook.xml"), "index cannot be read"),
            (changed(book(["tag"], ["A"]), lambda xml: xml[:300]), "cannot be read"),
        ],
    )
    def test_it_is_refused_with_a_remedy(self, content, words):
        with pytest.raises(FileUnreadable, match=words) as caught:
            read(content)
        assert caught.value.remedy

    def test_one_that_unfolds_beyond_measure_is_refused_before_it_is_unfolded(self):
        bomb = changed(book(["tag"], ["A"]), lambda xml: xml + b" " * (300 * 1024**2))
        assert len(bomb) < 1024**2
        with pytest.raises(FileUnreadable, match="unfolds to more than 256 MB"):
            read(bomb)

    @pytest.mark.parametrize("place", [b"XFD1048576", b"ZZ999999", b"A1&#48;&#48;", b"a9999999999"])
    def test_a_cell_far_outside_the_table_is_refused_before_the_space_between_is_filled(self, place):
        content = changed(book(["tag"], ["A"]), lambda xml: xml.replace(b'r="A2"', b'r="' + place + b'"'))
        with pytest.raises(FileUnreadable, match=r"reaches over|without a place"):
            read(content)

    def test_one_long_text_repeated_without_end_is_refused(self):
        shared = b"<si><t>" + b"x" * 400_000 + b"</t></si>"
        cells = b"".join(b'<row r="%d"><c r="A%d" t="s"><v>0</v></c></row>' % (n, n) for n in range(3, 1500))
        content = changed(book(["tag"], ["A"]), lambda xml: xml.replace(b"</sheetData>", cells + b"</sheetData>"))
        out = io.BytesIO(content)
        with zipfile.ZipFile(out, "a", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("xl/sharedStrings.xml", b"<sst>" + shared + b"</sst>")
        with pytest.raises(FileUnreadable, match="repeats too long texts"):
            read(out.getvalue())

    @pytest.mark.timeout(20)
    @pytest.mark.parametrize("junk", [b"<c", b'<c t="e">', b"<f", b"<c><f", b'<c t="s">', b"<c r='"])
    def test_junk_costs_no_more_than_its_length(self, junk):
        content = changed(book(["tag"], ["A"]), lambda xml: xml.replace(b"</sheetData>", junk * 300_000))
        with pytest.raises(FileUnreadable):
            read(content)
