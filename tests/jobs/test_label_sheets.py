"""Sheets of labels: every symbol is read back from the printed page by another hand."""

import datetime

import numpy as np
import pytest
from scipy import ndimage

from assets.models import Bin
from jobs.calculations.label_codes import grouped, label_address, new_code, read_code
from jobs.calculations.label_pdf import PrintedLabel, sheet_pdf, symbol_modules
from jobs.calculations.label_sheets import FORMATS, QUIET_ZONE, WANTED_MODULE_MM, cells, layout
from jobs.models import Label
from kits.models import Lot
from services.changes.models import Change
from tests.overhauls import hands, open_workshop
from tests.printed_pages import DPI, pages, symbols, text_of
from tests.shelves import put_on_shelf
from tests.world import gather_cast

NOW = datetime.datetime(2026, 11, 25, 9, tzinfo=datetime.UTC)
MM = DPI / 25.4


def some_labels(count, **changes):
    found = []
    for _ in range(count):
        code = new_code()
        plain = {
            "address": label_address("https://pumps.example.org", code),
            "code": grouped(code),
            "kind": "lot",
            "heading": "KIT-NB-40 B",
            "lines": ("Lot L-2026-014", "north, bin A-03", "Overhaul kit NB 40, EPDM"),
            "strong": "Use by 2031-03-31",
        }
        found.append(PrintedLabel(**plain | changes))
    return found


@pytest.mark.parametrize("name", FORMATS)
def test_every_symbol_is_read_back_in_order(name):
    sheet = FORMATS[name]
    labels = some_labels(min(sheet.per_page + 3, 33))
    printed = pages(sheet_pdf(labels, sheet, printed_at=NOW, start_at=min(2, sheet.per_page)))
    assert len(printed) == cells(sheet, len(labels), min(2, sheet.per_page))[-1].page + 1
    seen = [one for page in printed for one in symbols(page)]
    assert [one.text for one in seen] == [one.address for one in labels]
    # ISO/IEC 18004: level M recovers about 15 % of the codewords (value from memory).
    assert {one.level for one in seen} == {"M"}


@pytest.mark.parametrize("name", FORMATS)
def test_every_symbol_is_read_after_it_was_made_smaller_by_30_percent(name):
    sheet = FORMATS[name]
    labels = some_labels(sheet.per_page)
    for page in pages(sheet_pdf(labels, sheet, printed_at=NOW)):
        smaller = np.ascontiguousarray(ndimage.zoom(page, 0.7, order=1))
        assert [one.text for one in symbols(smaller)] == [one.address for one in labels]


@pytest.mark.parametrize("name", FORMATS)
def test_modules_are_as_large_as_said_and_the_quiet_zone_is_blank(name):
    sheet = FORMATS[name]
    (label,) = some_labels(1, lines=("M" * 300,) * 20, heading="W" * 60)
    modules = symbol_modules(label.address)
    planned = layout(sheet, modules)
    (page,) = pages(sheet_pdf([label], sheet, printed_at=NOW))
    (seen,) = symbols(page)
    inside = modules - 2 * QUIET_ZONE
    assert seen.side / inside / MM == pytest.approx(planned.module, abs=0.02)
    assert seen.side / inside / MM >= WANTED_MODULE_MM
    # ISO/IEC 18004: four modules of quiet zone on every side (value from memory); a pixel is left for rounding.
    zone = int(QUIET_ZONE * planned.module * MM) - 2
    left, top = int(seen.x), int(seen.y)
    right, bottom = int(seen.x + seen.side) + 2, int(seen.y + seen.side) + 2
    around = page[top - zone : bottom + zone, left - zone : right + zone].copy()
    around[zone - 2 : zone + bottom - top + 2, zone - 2 : zone + right - left + 2] = 255
    assert around.min() > 250


def test_long_text_is_cut_at_its_own_label_and_never_reaches_the_next():
    sheet = FORMATS["letter-66.7x25.4"]
    labels = some_labels(30, lines=("endless " * 200,), heading="NUMBER-" * 9)
    seen = symbols(pages(sheet_pdf(labels, sheet, printed_at=NOW))[0])
    assert [one.text for one in seen] == [one.address for one in labels]
    page = pages(sheet_pdf(some_labels(1, lines=("endless " * 200,)), sheet, printed_at=NOW))[0]
    beyond = page.copy()
    beyond[: int((sheet.top + sheet.height) * MM) + 1, : int((sheet.left + sheet.width) * MM) + 1] = 255
    assert beyond.min() == 255


def test_what_looks_like_markup_is_printed_as_it_is():
    words = ("#sys.inputs", '*bold* $x^2$ _a_ <b> "q" \\ // /* ', '#{panic("x")}', "Ø 45 µm, Prüfung, насос")
    pdf = sheet_pdf(some_labels(1, heading='#"a" [b]', lines=words), FORMATS["a4-99.1x38.1"], printed_at=NOW)
    (text,) = text_of(pdf)
    shown = " ".join(text.split())
    for one in ('#"a" [b]', *words):
        assert one.strip() in shown


def test_the_same_labels_give_the_same_pdf():
    labels = some_labels(3)
    assert sheet_pdf(labels, FORMATS["a4-70x37"], printed_at=NOW) == sheet_pdf(
        labels, FORMATS["a4-70x37"], printed_at=NOW
    )


@pytest.fixture
def north(db):
    cast = gather_cast()
    workshop = open_workshop(cast)
    return cast, workshop


def print_sheet(cast, body, *, role="stores", status=200, key=None):
    headers = {"Idempotency-Key": key} if key else {}
    answer = cast.client(role).post("/api/v1/label-sheets", body, format="json", headers=headers)
    assert answer.status_code == status, answer.content
    return answer


def things_of(cast, workshop):
    return [
        {"kind": "kit", "id": str(workshop.kit.pk)},
        {"kind": "lot", "id": str(Lot.objects.get(number="L-1").pk)},
        {"kind": "pump", "id": str(workshop.pump.pk)},
        {"kind": "bin", "id": str(Bin.objects.get(site=cast.north).pk)},
    ]


def test_a_sheet_over_http_holds_the_codes_of_its_things(north):
    cast, workshop = north
    Lot.objects.update(expires_on=datetime.date(2031, 3, 31))
    answer = print_sheet(cast, {"things": things_of(cast, workshop), "format": "a4-70x37", "copies": 2, "start_at": 3})
    assert answer.headers["Content-Type"] == "application/pdf"
    (page,) = pages(answer.content)
    codes = [read_code(one.text) for one in symbols(page)]
    kinds = {one.code: one.kind for one in Label.objects.all()}
    assert [kinds[one] for one in codes] == ["kit", "kit", "lot", "lot", "pump", "pump", "bin", "bin"]
    (text,) = text_of(answer.content)
    for words in ("KIT-NB A", "Lot L-1", "Use by 2031-03-31", "north, bin MAIN", "P-117", "NB2019-0117", "MAIN"):
        assert words in text
    for code in kinds:
        assert grouped(code) in text
    assert Label.objects.filter(printed_at=None).count() == 0
    assert Change.objects.filter(kind="label.printed").count() == 4
    assert Change.objects.filter(kind="label.printed", body__printed_at=None).count() == 0


def test_a_symbol_on_paper_leads_to_its_thing(north):
    cast, workshop = north
    pdf = print_sheet(cast, {"things": things_of(cast, workshop)[2:3], "format": "roll-62x29"}).content
    (seen,) = symbols(pages(pdf)[0])
    path = seen.text.removeprefix("HTTP://LOCALHOST:8000")
    answer = cast.client("fitter").get(path, headers={"Accept": "application/json"})
    assert (answer.status_code, answer.json()["pump"]["tag"]) == (200, "P-117")


def test_a_repeat_with_the_same_key_gives_the_same_pdf_and_prints_nothing_twice(north):
    cast, workshop = north
    body = {"things": things_of(cast, workshop), "format": "a4-99.1x38.1"}
    first = print_sheet(cast, body, key="one")
    put_on_shelf(cast.by("stores"), cast.north, workshop.kit, 1, lot="L-1")
    again = print_sheet(cast, body, key="one")
    assert again.headers["Idempotency-Replayed"] == "true"
    assert again.content == first.content
    assert Change.objects.filter(kind="label.printed").count() == 4


def test_labels_by_id_are_printed_again_with_the_same_code(north):
    cast, workshop = north
    made = hands(cast)["stores"].post("labels", {"things": things_of(cast, workshop)[:2]})["labels"]
    answer = print_sheet(cast, {"labels": [one["id"] for one in made], "format": "letter-66.7x25.4"})
    assert [one.text for one in symbols(pages(answer.content)[0])] == [one["uri"] for one in made]


def test_only_active_labels_are_printed(north):
    cast, workshop = north
    (old,) = hands(cast)["stores"].post("labels", {"things": things_of(cast, workshop)[2:3]})["labels"]
    hands(cast)["stores"].post(
        f"labels/{old['id']}/replace", {"reason": "torn"}, status=201, seen=f"labels/{old['id']}"
    )
    refused = print_sheet(cast, {"labels": [old["id"]], "format": "a4-70x37"}, status=409).json()
    assert (refused["code"], old["printed_code"] in refused["detail"]) == ("wrong-state", True)


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"format": "a5"}, 422, "invalid-value"),
        ({"start_at": 25}, 422, "sheet-impossible"),
        ({"start_at": 0}, 422, "invalid-value"),
        ({"copies": 500}, 422, "sheet-impossible"),
        ({"things": []}, 422, "invalid-value"),
        ({"labels": ["0199a0c4-0000-7000-8000-0000000000aa"]}, 422, "invalid-value"),
        ({"colour": "red"}, 422, "invalid-value"),
    ],
)
def test_a_sheet_that_cannot_be_set_is_refused_as_json(north, change, status, code):
    cast, workshop = north
    body = {"things": things_of(cast, workshop), "format": "a4-70x37"} | change
    answer = print_sheet(cast, body, status=status)
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["code"] == code
    assert Label.objects.count() == 0


def test_an_address_too_long_for_a_small_label_is_refused_before_anything_is_printed(north, settings):
    cast, workshop = north
    settings.PUBLIC_ADDRESS = "https://pumps.example.org/" + "a-folder-of-a-long-name/" * 20
    refused = print_sheet(cast, {"things": things_of(cast, workshop), "format": "roll-50x25"}, status=422).json()
    assert (refused["code"], refused["errors"][0]["pointer"]) == ("sheet-impossible", "#/format")
    assert Label.objects.count() == 0


@pytest.mark.parametrize("role", ["fitter", "reader"])
def test_who_may_not_label_prints_no_sheet(north, role):
    cast, workshop = north
    (made,) = hands(cast)["stores"].post("labels", {"things": things_of(cast, workshop)[2:3]})["labels"]
    for body in ({"labels": [made["id"]]}, {"things": things_of(cast, workshop)[2:3]}):
        assert print_sheet(cast, body | {"format": "a4-70x37"}, role=role, status=403).json()["code"] == "not-allowed"


def test_a_stranger_cannot_tell_that_a_label_is_there(north):
    cast, workshop = north
    (made,) = hands(cast)["stores"].post("labels", {"things": things_of(cast, workshop)[2:3]})["labels"]
    body = {"labels": [made["id"]], "format": "a4-70x37"}
    assert "no such label" in print_sheet(cast, body, role="stranger", status=422).json()["detail"]
