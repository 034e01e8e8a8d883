"""Files as they come: encodings, separators, headers in other words, titles above them."""

import codecs

import pytest

from services.api.loading import Column, LoadKind
from services.bulk_loads.reading import CSV, JSON, NDJSON, Reading, look_through, read_file
from services.bulk_loads.refusals import FileUnreadable

KIND = LoadKind(
    "things",
    load=lambda *, by, rows: [],
    columns=(
        Column("tag", required=True),
        Column("name"),
        Column("temperature_min_c", "decimal"),
        Column("temperature_max_c", "decimal"),
    ),
)
WORDS = "tag,name\nA,Skjálfandi Grønland „Ölpumpe“\n"


def values(content, **how):
    return [dict(one.row.values) for one in read_file(KIND, content, CSV, Reading(**how))]


def notes(content, **how):
    return look_through(KIND, content, CSV, Reading(**how))[1]


@pytest.mark.parametrize(
    "content",
    [
        WORDS.encode(),
        codecs.BOM_UTF8 + WORDS.encode(),
        codecs.BOM_UTF16_LE + WORDS.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + WORDS.encode("utf-16-be"),
        codecs.BOM_UTF32_LE + WORDS.encode("utf-32-le"),
        WORDS.encode("cp1252"),
    ],
)
def test_letters_survive_whatever_the_encoding(content):
    assert values(content)[0]["name"] == "Skjálfandi Grønland „Ölpumpe“"


def test_an_older_encoding_is_told_once_with_a_word_to_check():
    assert notes(WORDS.encode("cp1252")) == ["The file is not UTF-8; it was read as Windows-1252. Check 'Skjálfandi'."]
    assert notes("tag,name\nA,Müller\nB,Søren\n".encode("latin-1"))[0].endswith("Check 'Müller'.")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"tag,name\nA,\xff\x81\n", "neither UTF-8 (byte 11) nor Windows-1252 (byte 12)"),
        (b"tag,name\nA,\xff\x02\n", "neither UTF-8 (byte 11) nor plain text (byte 12)"),
        (codecs.BOM_UTF16_LE + b"t", "not UTF-16"),
        ("tag,name\nA,b\n".encode("utf-16-le"), "NUL"),
    ],
)
def test_bytes_that_are_no_text_are_refused_with_the_byte_and_the_remedy(content, words):
    with pytest.raises(FileUnreadable) as caught:
        values(content)
    assert words in caught.value.detail
    assert "UTF-8" in caught.value.remedy


def test_json_is_utf_8_and_nothing_else():
    # RFC 8259, section 8.1.
    with pytest.raises(FileUnreadable, match="not UTF-8"):
        read_file(KIND, '[{"tag": "Ö"}]'.encode("cp1252"), JSON)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_separator_is_the_one_that_makes_the_columns(separator):
    content = separator.join(["tag", "name", "temperature_max_c"]) + "\n" + separator.join(["A", "x", "5"]) + "\n"
    assert values(content.encode())[0] == {
        "tag": "A", "name": "x", "temperature_min_c": None, "temperature_max_c": 5,
    }  # fmt: skip


def test_a_first_line_that_names_the_separator_is_followed():
    content = b"sep=;\r\ntag;name\r\nA;a, b and c\r\n"
    one = read_file(KIND, content, CSV)[0]
    assert (one.row.number, one.row.values["name"]) == (3, "a, b and c")
    assert notes(content) == ["The separator was read from the first line: ';'."]


def test_headers_in_other_cases_blanks_and_points_are_ours_with_a_note():
    content = b"TAG,Temperature Min. (C),temperature-max c\nA,5,90\n"
    assert values(content)[0]["temperature_min_c"] == 5
    assert notes(content) == [
        "'TAG' was read as the column tag.",
        "'Temperature Min. (C)' was read as the column temperature_min_c.",
        "'temperature-max c' was read as the column temperature_max_c.",
    ]
    assert read_file(KIND, b'{"Tag": "A"}\n{"TAG": "B"}\n', NDJSON)[1].row.values["tag"] == "B"


def test_two_headers_for_one_column_are_refused():
    with pytest.raises(FileUnreadable, match="'tag' stands twice"):
        values(b"tag,Tag\nA,B\n")


def test_titles_above_the_header_are_passed_over_and_rows_keep_their_numbers():
    content = b"Register of pumps;;\n\ntag;name\nA;x\n"
    assert [one.row.number for one in read_file(KIND, content, CSV)] == [4]
    assert notes(content) == ["The header was found in row 3; what stands above was passed over."]


def test_empty_columns_at_the_end_are_nothing_but_what_stands_there_is_told():
    rows = read_file(KIND, b"tag,name,,\nA,x,,\nB,y,,hm\n,,,\n", CSV)
    assert [[bad.detail for bad in one.problems] for one in rows] == [[], ["It stands under no header."]]
    assert rows[1].problems[0].value == "hm"


class TestMapped:
    def test_headers_of_the_file_become_our_columns(self):
        how = {"columns": {"Equipment": "tag", "Lower T": "temperature_min_c"}}
        assert values(b"EQUIPMENT;Lower t\nA;5\n", **how)[0]["temperature_min_c"] == 5

    def test_a_column_that_is_not_mapped_refuses_the_file_unless_others_are_ignored(self):
        content = b"Equipment,Colour\nA,blue\n"
        with pytest.raises(FileUnreadable, match="'Colour' is no column"):
            values(content, columns={"Equipment": "tag"})
        how = {"columns": {"Equipment": "tag"}, "ignore_others": True}
        assert values(content, **how)[0]["tag"] == "A"
        assert "Left aside: Colour." in notes(content, **how)

    def test_a_header_of_the_mapping_that_is_missing_is_told(self):
        assert "The mapping's 'Name' is not in the file." in notes(b"tag\nA\n", columns={"Name": "name"})
        with pytest.raises(FileUnreadable, match="'tag' is missing"):
            values(b"name\nA\n", columns={"Equipment": "tag"})
