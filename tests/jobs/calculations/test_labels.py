"""Codes of labels, what their check notices, and where labels lie on a sheet."""

import contextlib
import itertools
import math

import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calculations.label_codes import (
    ALPHABET,
    LENGTH,
    CodeUnreadable,
    grouped,
    is_sound,
    label_address,
    new_code,
    read_code,
)
from jobs.calculations.label_pdf import symbol, symbol_modules
from jobs.calculations.label_sheets import (
    FORMATS,
    MOST_LABELS,
    SMALLEST_MODULE_MM,
    WANTED_MODULE_MM,
    LabelTooSmall,
    SheetMisused,
    cells,
    layout,
)

ADDRESS = "https://pumps.example.org"
codes = st.builds(lambda seed: new_code(), st.integers())


def test_the_alphabet_has_32_characters_none_of_which_is_taken_for_another():
    # Crockford's base 32: without I, L, O and U (value from memory).
    assert (len(ALPHABET), len(set(ALPHABET))) == (32, 32)
    assert not set("ILOU") & set(ALPHABET)
    assert list(ALPHABET) == sorted(ALPHABET)


@settings(max_examples=30, deadline=None)
@given(codes)
def test_any_one_wrong_character_is_noticed(code):
    assert is_sound(code)
    for place, other in itertools.product(range(LENGTH), ALPHABET):
        wrong = code[:place] + other + code[place + 1 :]
        assert is_sound(wrong) == (wrong == code)


@settings(max_examples=100, deadline=None)
@given(codes)
def test_any_two_characters_that_changed_places_are_noticed(code):
    for one, other in itertools.combinations(range(LENGTH), 2):
        swapped = list(code)
        swapped[one], swapped[other] = swapped[other], swapped[one]
        assert is_sound("".join(swapped)) == (code[one] == code[other])


def test_the_check_is_that_of_a_field_of_32():
    # x generates all 31 values but zero only if x^5 + x^2 + 1 is primitive over GF(2) (tables of primitive polynomials:
    # value from memory). Worked out here by long division of polynomials, not by the code under test.
    def remainder(power):
        value = 1 << power
        while value.bit_length() > 5:
            value ^= 0b100101 << (value.bit_length() - 6)
        return value

    assert sorted(remainder(power) for power in range(31)) == list(range(1, 32))
    for place in range(LENGTH):
        code = "".join("1" if one == place else "0" for one in range(LENGTH - 1))
        if place < LENGTH - 1:
            assert is_sound(code + ALPHABET[remainder(LENGTH - 1 - place)])


def test_codes_are_drawn_and_do_not_come_twice():
    drawn = [new_code() for _ in range(2000)]
    assert len(set(drawn)) == 2000
    assert all(is_sound(one) for one in drawn)
    # 45 bits: by the birthday bound a million labels collide with a chance of about 1.4 %, and are then drawn again.
    assert 1e6**2 / 2 / 32 ** (LENGTH - 1) < 0.015


@settings(max_examples=100, deadline=None)
@given(codes, st.sampled_from(["", "/", "?x=1", "#y"]), st.booleans())
def test_a_code_is_read_however_it_was_typed_or_scanned(code, tail, small):
    forms = [code, grouped(code), f" {code[:4]} {code[4:]} ", label_address(ADDRESS, code) + tail, f"/s/{code}"]
    misread = code.replace("1", "l").replace("0", "o"), code.replace("1", "I").replace("0", "O")
    for text in (*forms, *misread):
        assert read_code(text.lower() if small else text) == code


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "this has 0"),
        ("7K3MP9QXZ", "this has 9"),
        ("7K3MP9QXZ44", "this has 11"),
        ("7K3MP9QXU4", "'U'"),
        ("7K3MP9QX\u00e44", "'Ä'"),
        ("https://example.org/other/7K3MP9QXZ4", "not that of a label"),
        ("0000000001", "does not check"),
    ],
)
def test_what_is_no_code_is_refused_with_the_reason(text, why):
    with pytest.raises(CodeUnreadable, match=why):
        read_code(text)


@given(st.text(max_size=60))
def test_no_text_breaks_the_reading(text):
    with contextlib.suppress(CodeUnreadable):
        assert is_sound(read_code(text))


def test_the_address_is_in_capitals_so_the_symbol_is_small():
    # ISO/IEC 18004, capacities at level M (value from memory): version 2 holds 38 alphanumeric characters, version 3
    # holds 61, or 42 bytes.
    for host, version in (("pumps.example.org", 2), ("overhauls.fennmark-utilities.example", 3)):
        address = label_address(f"https://{host}", "7K3MP9QXZ4")
        made = symbol(address)
        assert (made.version, made.error, made.mode) == (version, "M", "alphanumeric")
        assert made.symbol_size(border=0)[0] == 17 + 4 * version
        assert (
            segno.make(address.lower(), error="m", boost_error=False, micro=False).symbol_size(border=0)[0]
            > 17 + 4 * version
        )


def test_a_folder_of_the_address_keeps_its_small_letters():
    assert label_address("https://example.org/Pumps/", "7K3MP9QXZ4") == "HTTPS://EXAMPLE.ORG/Pumps/S/7K3MP9QXZ4"


@pytest.mark.parametrize("name", FORMATS)
def test_labels_of_a_sheet_lie_on_the_page_and_on_nothing_else(name):
    sheet = FORMATS[name]
    found = cells(sheet, min(MOST_LABELS, 3 * sheet.per_page))
    for one in found:
        assert one.x >= -1e-9
        assert one.x + sheet.width <= sheet.page_width + 1e-9
        assert one.y >= -1e-9
        assert one.y + sheet.height <= sheet.page_height + 1e-9
    for one, other in itertools.combinations([one for one in found if one.page == 0], 2):
        assert abs(one.x - other.x) > sheet.width - 1e-9 or abs(one.y - other.y) > sheet.height - 1e-9
    assert [one.page for one in found] == sorted(one.page for one in found)
    assert len({(one.page, one.x, one.y) for one in found}) == len(found)


def test_a_sheet_that_was_begun_is_gone_on_with():
    sheet = FORMATS["a4-70x37"]
    whole, begun = cells(sheet, 30), cells(sheet, 25, start_at=6)
    assert begun == whole[5:]
    assert begun[19].page == 1
    assert (begun[19].x, begun[19].y) == (whole[0].x, whole[0].y)


@pytest.mark.parametrize(("count", "start_at"), [(0, 1), (MOST_LABELS + 1, 1), (1, 0), (1, 25)])
def test_a_sheet_that_is_not_there_is_refused(count, start_at):
    with pytest.raises(SheetMisused):
        cells(FORMATS["a4-70x37"], count, start_at)


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.parametrize("modules", [33, 37, 41, 45])
def test_symbol_code_and_text_lie_apart_inside_the_label(name, modules):
    sheet = FORMATS[name]
    found = layout(sheet, modules)
    across, down = sheet.padding
    for one in (found.symbol, found.code, found.text):
        assert one.x >= across - 1e-9
        assert one.x + one.width <= sheet.width - across + 1e-9
        assert one.y >= down - 1e-9
        assert one.y + one.height <= sheet.height - down + 1e-9
    assert found.symbol.y + found.symbol.height <= found.code.y + 1e-9
    assert found.symbol.x + found.symbol.width < found.text.x
    assert math.isclose(found.symbol.width, found.module * modules)
    # A label permits 0.35 mm and more for every address of usual length.
    assert found.module >= WANTED_MODULE_MM
    assert math.isclose(found.module / 0.125, round(found.module / 0.125))


def test_a_symbol_too_fine_to_be_read_is_refused_and_not_printed():
    address = label_address("https://pumps.example.org/" + "a-folder-of-a-long-name/" * 20, "7K3MP9QXZ4")
    modules = symbol_modules(address)
    with pytest.raises(LabelTooSmall, match="roll-50x25"):
        layout(FORMATS["roll-50x25"], modules)
    assert layout(FORMATS["a4-99.1x38.1"], modules).module >= SMALLEST_MODULE_MM
