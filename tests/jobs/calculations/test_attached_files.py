"""What a file is, told by Pillow; what a photo tells about its place is gone, read back by pypdfium2 and Pillow."""

import io
from typing import Any

import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from jobs.calculations.attached_files import FileUnusable, TooManyPoints, look_at
from tests.jobs.calculations.test_papers import sheet_pdf

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F


def picture(kind: str, *, place: bool = False, size: tuple[int, int] = (64, 48)) -> bytes:
    """A made-up photo; with ``place`` it tells where and with what it was taken, and lies on its side."""
    out = io.BytesIO()
    told: dict[str, Any] = {}
    if place:
        facts = Image.Exif()
        facts[ORIENTATION], facts[MAKER] = 6, "Made-up telephone"
        facts.get_ifd(GPS).update({1: "N", 2: (62.0, 1.0, 2.0)})
        told["exif"] = facts
        if kind != "PNG":
            told["xmp"] = b"<x:xmpmeta>GPSLatitude=62</x:xmpmeta>"
    Image.effect_noise(size, 40).convert("RGB").save(out, kind, **told)
    return out.getvalue()


def document() -> bytes:
    out = io.BytesIO()
    pdf = pypdfium2.PdfDocument.new()
    pdf.new_page(200, 200)
    pdf.save(out)
    return out.getvalue()


@pytest.mark.parametrize(("kind", "media"), [("JPEG", "image/jpeg"), ("PNG", "image/png"), ("WEBP", "image/webp")])
def test_a_photo_loses_its_place_and_keeps_how_it_is_turned(kind, media):
    seen = look_at(picture(kind, place=True))
    kept = Image.open(io.BytesIO(seen.content))
    assert (seen.media_type, seen.cleaned) == (media, True)
    assert dict(kept.getexif()) == {ORIENTATION: 6}
    assert dict(kept.getexif().get_ifd(GPS)) == {}
    assert b"GPSLatitude" not in seen.content
    assert b"Made-up" not in seen.content


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_photo_that_tells_nothing_is_kept_to_the_byte(kind):
    content = picture(kind)
    assert look_at(content).content == content


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_cleaning_twice_changes_nothing_more(kind):
    once = look_at(picture(kind, place=True))
    assert look_at(once.content).cleaned is False


def test_a_pdf_is_taken_as_it_is():
    content = document()
    assert pypdfium2.PdfDocument(content).get_version() is not None
    assert look_at(content).media_type == "application/pdf"
    assert look_at(content).content == content


def test_papers_of_this_service_are_pdfs_that_are_taken():
    """Set by typst, with a stream of references in place of a table (ISO 32000-1:2008, 7.5.8)."""
    content = sheet_pdf()
    assert look_at(content).content == content


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html><script>alert(1)</script></html>",
        b"MZ\x90\x00 a program",
        b"%PDF-1.7 cut off",
        b"%PDF-1.7\n<script>alert(1)</script>\n%%EOF",
        b"%PDF-1.7\n<script>alert(1)</script>\nstartxref\n9\n%%EOF",
        b"%PDF-1.7\nstartxref\n4000000000\n%%EOF",
        b"GIF89a\x01\x00\x01\x00\x00\x00\x00;",
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    ],
)
def test_anything_else_is_refused(content):
    with pytest.raises(FileUnusable):
        look_at(content)


def test_a_picture_cut_off_is_broken():
    content = picture("JPEG")
    with pytest.raises(FileUnusable, match="broken"):
        look_at(content[: len(content) // 2])


def test_a_picture_with_too_many_points_is_not_unpacked(monkeypatch):
    monkeypatch.setattr("jobs.calculations.attached_files.MOST_POINTS", 1000)
    with pytest.raises(TooManyPoints, match=r"64 x 48 points, .* at most 0\.001 million"):
        look_at(picture("PNG"))


def blank(width: int, height: int) -> bytes:
    """A PNG of so many white points, which packs to almost nothing."""
    out = io.BytesIO()
    Image.new("1", (width, height), 1).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("size", [(8192, 6400), (10_000, 10_000), (20_000, 20_000)])
def test_the_size_of_a_picture_is_read_from_its_head(monkeypatch, size):
    def unpack(*_: Any) -> None:
        raise AssertionError("the picture was unpacked")

    content = blank(*size)
    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", unpack)
    with pytest.raises(TooManyPoints, match="million"):
        look_at(content)


def test_a_photo_of_fifty_million_points_is_taken():
    assert look_at(blank(8192, 6144)).media_type == "image/png"


def several_pictures() -> bytes:
    """A photo with a second picture behind it, as telephones take them (CIPA DC-007)."""
    out, behind = io.BytesIO(), Image.open(io.BytesIO(picture("JPEG", size=(32, 24))))
    Image.open(io.BytesIO(picture("JPEG"))).save(out, "MPO", save_all=True, append_images=[behind])
    return out.getvalue()


def test_of_a_photo_with_several_pictures_the_first_is_kept():
    content = several_pictures()
    assert Image.open(io.BytesIO(content)).format == "MPO"
    seen = look_at(content)
    kept = Image.open(io.BytesIO(seen.content))
    assert (seen.media_type, seen.cleaned) == ("image/jpeg", True)
    assert (kept.format, kept.size, getattr(kept, "n_frames", 1)) == ("JPEG", (64, 48), 1)
    assert kept.tobytes() == Image.open(io.BytesIO(content)).tobytes()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_nothing_hangs_behind_a_picture(kind):
    content = picture(kind)
    seen = look_at(content + b"PK\x03\x04<html><script>alert(1)</script></html>")
    assert (seen.content, seen.cleaned) == (content, True)


def test_a_camera_that_tells_its_place_in_a_segment_of_its_own_is_not_believed_harmless():
    content = picture("JPEG")
    told = b"GPMF latitude 62.0"
    segment = b"\xff\xe6" + (len(told) + 2).to_bytes(2, "big") + told
    assert look_at(content[:2] + segment + content[2:]).content == content


def test_a_comment_of_a_camera_is_left_out():
    content = picture("JPEG")
    told = b"taken at the pump house"
    segment = b"\xff\xfe" + (len(told) + 2).to_bytes(2, "big") + told
    assert look_at(content[:2] + segment + content[2:]).content == content


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_no_point_of_a_photo_changes_when_its_place_is_taken_out(kind):
    content = picture(kind, place=True)
    before = Image.open(io.BytesIO(content)).tobytes()
    assert Image.open(io.BytesIO(look_at(content).content)).tobytes() == before


@pytest.mark.parametrize(("kind", "how"), [("JPEG", {"progressive": True}), ("JPEG", {"restart_marker_rows": 1})])
def test_a_photo_in_several_scans_is_kept_whole(kind, how):
    out = io.BytesIO()
    Image.effect_noise((320, 240), 60).convert("RGB").save(out, kind, **how)
    assert look_at(out.getvalue()).content == out.getvalue()


def test_a_picture_of_a_press_keeps_its_colours():
    """CMYK as presses write it: the Adobe segment says that the inks are inverted."""
    out = io.BytesIO()
    Image.effect_noise((64, 48), 60).convert("CMYK").save(out, "JPEG")
    content = out.getvalue()
    assert b"Adobe" in content
    assert look_at(content).content == content


@given(
    kind=st.sampled_from(["JPEG", "PNG", "WEBP"]),
    at=st.floats(0, 1, exclude_max=True),
    bytes_there=st.binary(min_size=1, max_size=40),
)
def test_a_file_that_was_spoilt_is_taken_or_refused_and_nothing_else(kind, at, bytes_there):
    content = bytearray(picture(kind, place=True))
    where = int(at * len(content))
    content[where : where + len(bytes_there)] = bytes_there
    try:
        seen = look_at(bytes(content))
    except FileUnusable:
        return
    assert look_at(seen.content).content == seen.content
