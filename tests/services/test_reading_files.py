"""Files as people and machines really write them, read into rows."""

import contextlib
import csv
import datetime
import io
import json
from decimal import Decimal

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from services.api.loading import Column, LoadKind
from services.bulk_loads.reading import CSV, JSON, NDJSON, YAML, read_file
from services.bulk_loads.refusals import FileUnreadable

COLUMNS = (
    Column("tag", "text", required=True),
    Column("cost", "decimal"),
    Column("quantity", "integer"),
    Column("optional", "yes_no"),
    Column("due", "date"),
    Column("read_at", "datetime"),
    Column("state", "choice", choices=("in-service", "standby")),
)
ROWS = LoadKind("things", load=lambda *, by, rows: [], columns=COLUMNS)
DOCUMENTS = LoadKind("papers", load=lambda *, by, rows: [], accepts="document")


def cell(column, text):
    """(value, notes, problems) of one cell in a CSV."""
    out = io.StringIO()
    csv.writer(out).writerows([["tag", column], ["P-117", text]])
    one = read_file(ROWS, out.getvalue().encode(), CSV)[0]
    return one.row.values.get(column), [note.detail for note in one.notes], [bad.detail for bad in one.problems]


def unreadable(kind, content, media):
    with pytest.raises(FileUnreadable) as caught:
        read_file(kind, content.encode(), media)
    assert caught.value.remedy
    return caught.value.detail


@pytest.mark.parametrize(
    ("column", "text", "value"),
    [
        ("cost", "12.50", Decimal("12.50")),
        ("cost", "-3", Decimal(-3)),
        ("quantity", "12", 12),
        ("optional", "Yes", True),
        ("optional", "0", False),
        ("due", "2026-02-28", datetime.date(2026, 2, 28)),
        ("read_at", "2026-01-02T06:00:00+02:00", datetime.datetime(2026, 1, 2, 4, tzinfo=datetime.UTC)),
        ("read_at", "2026-01-02 06:00", datetime.datetime(2026, 1, 2, 6, tzinfo=datetime.UTC)),
        ("state", "standby", "standby"),
        ("cost", "", None),
        ("cost", "   ", None),
    ],
)
def test_a_cell_is_read_as_its_columns_type(column, text, value):
    assert cell(column, text) == (value, [], [])


@pytest.mark.parametrize(
    ("column", "text", "value", "note"),
    [
        ("cost", "43,5", Decimal("43.5"), "decimal comma read as a point"),
        ("cost", " 43.5 ", Decimal("43.5"), "spaces around it taken off"),
        ("state", "Standby", "standby", "read as standby"),
        ("quantity", "\N{NO-BREAK SPACE}7", 7, "spaces around it taken off"),
    ],
)
def test_what_can_be_mended_without_guessing_is_mended_and_noted(column, text, value, note):
    assert cell(column, text) == (value, [note], [])


@pytest.mark.parametrize(
    ("column", "text", "problem"),
    [
        ("cost", "approx. 208", "It is no number."),
        ("cost", "NaN", "It is no number."),
        ("cost", "1e9", "It is no number."),
        ("quantity", "2.5", "It is no whole number."),
        ("optional", "perhaps", "It is neither yes nor no."),
        ("due", "2026-02-30", "It is no date."),
        ("read_at", "yesterday", "It is no time."),
        ("read_at", "0001-01-01T00:00:00+05:00", "It is no time."),
        ("state", "standbye", "It is none of those possible. Did you mean 'standby'?"),
    ],
)
def test_what_cannot_be_read_is_a_problem_of_its_row(column, text, problem):
    assert cell(column, text) == (None, [], [problem])


def test_an_empty_required_cell_is_a_problem_with_a_remedy():
    one = read_file(ROWS, b"tag,cost\n,5\n", CSV)[0]
    assert [(bad.column, bad.detail) for bad in one.problems] == [("tag", "tag is empty.")]
    assert one.problems[0].remedy


def test_every_problem_of_a_row_is_told_at_once():
    one = read_file(ROWS, b"tag,cost,quantity\n,x,y\n", CSV)[0]
    assert [bad.column for bad in one.problems] == ["tag", "cost", "quantity"]


def test_semicolons_quotes_and_a_byte_order_mark_are_understood():
    content = '\ufefftag;cost\r\n"P-117; old";"12,5"\r\n'
    one = read_file(ROWS, content.encode(), CSV)[0]
    assert (one.row.values["tag"], one.row.values["cost"]) == ("P-117; old", Decimal("12.5"))


def test_rows_are_numbered_as_in_the_file_and_empty_ones_passed_over():
    content = b"tag,cost\nA,1\n\n,\nB,2\n"
    assert [one.row.number for one in read_file(ROWS, content, CSV)] == [2, 5]


def test_a_row_with_too_many_cells_is_refused_alone():
    rows = read_file(ROWS, b"tag,cost\nA,1,5\nB,2\n", CSV)
    assert [[bad.detail for bad in one.problems] for one in rows] == [["The row has 3 cells, the header 2."], []]


def test_a_line_that_is_no_json_is_refused_alone():
    rows = read_file(ROWS, b'{"tag": "A"}\n{"tag": \n[1]\n{"tag": "B"}\n', NDJSON)
    assert [bool(one.problems) for one in rows] == [False, True, True, False]
    assert [one.row.number for one in rows] == [1, 2, 3, 4]


def test_a_separator_of_lines_inside_a_json_text_cuts_nothing():
    content = json.dumps({"tag": "A\u2028B"}, ensure_ascii=False)
    assert [one.row.values["tag"] for one in read_file(ROWS, content.encode(), NDJSON)] == ["A\u2028B"]


def test_json_values_of_another_type_are_read_or_refused_by_the_cell():
    content = json.dumps([{"tag": 117, "cost": 12.5, "quantity": 3, "optional": True, "due": ["2026"]}])
    one = read_file(ROWS, content.encode(), JSON)[0]
    assert (one.row.values["tag"], one.row.values["cost"], one.row.values["optional"]) == ("117", Decimal("12.5"), True)
    assert [bad.detail for bad in one.problems] == ["It is no single value."]


def test_a_nul_in_a_json_text_is_a_problem_that_a_report_can_hold():
    one = read_file(ROWS, rb'[{"tag": "A\u0000"}]', JSON)[0]
    assert [(bad.detail, "\x00" in bad.value) for bad in one.problems] == [("It holds a NUL character.", False)]


@pytest.mark.parametrize(
    ("content", "media", "words"),
    [
        ("", CSV, "empty"),
        ("", NDJSON, "empty"),
        ("[]", JSON, "empty"),
        ("{}", JSON, "no array"),
        ("[", JSON, "no JSON"),
        ("tag: A", YAML, "do not come as"),
        ("tag,kost\nA,1\n", CSV, "Did you mean 'cost'?"),
        ('[{"tag": "A"}, {"tga": "B"}]', JSON, "Did you mean 'tag'?"),
        ("cost\n1\n", CSV, "'tag' is missing"),
        ("tag,tag\nA,B\n", CSV, "stands twice"),
        ("tag\nA\x00\n", CSV, "NUL"),
        ('tag\n"A', CSV, None),
    ],
)
def test_a_file_that_is_not_of_its_kind_is_refused_as_a_whole(content, media, words):
    if words is None:
        assert read_file(ROWS, content.encode(), media)[0].row.values["tag"] == "A"
    else:
        assert words in unreadable(ROWS, content, media)


def test_the_columns_of_the_kind_are_named_in_the_remedy():
    with pytest.raises(FileUnreadable) as caught:
        read_file(ROWS, b"tag,kost\nA,1\n", CSV)
    assert caught.value.remedy == "The columns of things are: tag, cost, quantity, optional, due, read_at, state."
    assert [one.pointer for one in caught.value.problems] == ["column kost"]


class TestDocuments:
    def test_each_yaml_document_is_one_row_and_dates_are_texts(self):
        rows = read_file(DOCUMENTS, b"code: A\nfrom: 2026-01-31\n---\ncode: B\n", YAML)
        assert [one.row.values for one in rows] == [{"code": "A", "from": "2026-01-31"}, {"code": "B"}]

    def test_json_says_the_same(self):
        assert read_file(DOCUMENTS, b'{"code": "A"}', JSON)[0].row.values == {"code": "A"}

    def test_references_which_could_grow_without_end_are_refused(self):
        bomb = "a: &a [x, x]\n" + "".join(f"b{n}: &b{n} [*a, *a]\n" for n in range(9))
        assert "refers to another place (*a)" in unreadable(DOCUMENTS, bomb, YAML)

    @pytest.mark.parametrize(
        ("content", "media", "words"),
        [
            ("a: " + "[" * 60 + "]" * 60, YAML, "nested deeper"),
            (json.dumps({"a": json.loads("[" * 60 + "]" * 60)}), JSON, "nested deeper"),
            ('a: "x\\0"', YAML, "NUL"),
            ('{"a": "x\\u0000"}', JSON, "NUL"),
            ("a: .nan", YAML, "no finite number"),
            ("a: !!binary aGVsbG8=", YAML, "of a type that is not taken"),
            ("a: 2026-13-45", YAML, "It is no application/yaml"),
            ("a: !!python/object:os.system x", YAML, "It is no application/yaml"),
            ("a: [", YAML, "It is no application/yaml"),
            ("- a", YAML, "no document of named fields"),
            ("", YAML, "no document of named fields"),
        ],
    )
    def test_what_cannot_be_kept_is_refused_with_its_place(self, content, media, words):
        assert words in unreadable(DOCUMENTS, content, media)

    def test_it_reads_what_a_library_reads(self):
        content = "code: A\nsteps: [{n: 10, words: one two}, {n: 20, hold: true, limit: '0.10', ratio: 1.5}]\n"
        assert read_file(DOCUMENTS, content.encode(), YAML)[0].row.values == yaml.safe_load(content)


@given(st.binary(max_size=300), st.sampled_from([CSV, NDJSON, JSON, YAML]), st.sampled_from([ROWS, DOCUMENTS]))
def test_whatever_bytes_come_they_are_read_or_refused(content, media, kind):
    with contextlib.suppress(FileUnreadable):
        assert isinstance(read_file(kind, content, media), list)


@given(st.lists(st.fixed_dictionaries({"tag": st.text(min_size=1), "cost": st.text()}), min_size=1, max_size=5))
def test_whatever_texts_stand_in_rows_each_row_is_told(rows):
    read = read_file(ROWS, json.dumps(rows).encode(), JSON)
    assert [one.row.number for one in read] == [*range(1, len(rows) + 1)]
