"""What a file is, told by Pillow; what a photo tells about its place is gone, read back by pypdfium2 and Pillow."""

import io
from typing import Any

import pypdfium2
import pytest
from PIL import Image

from jobs.calculations.attached_files import FileUnusable, look_at

GPS, ORIENTATION, MAKER = 0x8825, 0x0112, 0x010F


def picture(kind: str, *, place: bool = False, size: tuple[int, int] = (64, 48)) -> bytes:
    """A made-up photo; with ``place`` it tells where and with what it was taken, and lies on its side."""
    out = io.BytesIO()
    given: dict[str, Any] = {}
    if place:
        facts = Image.Exif()
        facts[ORIENTATION], facts[MAKER] = 6, "Made-up telephone"
        facts.get_ifd(GPS).update({1: "N", 2: (62.0, 1.0, 2.0)})
        given["exif"] = facts
        if kind != "PNG":
            given["xmp"] = b"<x:xmpmeta>GPSLatitude=62</x:xmpmeta>"
    Image.effect_noise(size, 40).convert("RGB").save(out, kind, **given)
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


def test_png_points_stay_as_they_were():
    content = picture("PNG", place=True)
    before = Image.open(io.BytesIO(content)).tobytes()
    assert Image.open(io.BytesIO(look_at(content).content)).tobytes() == before


def test_a_pdf_is_taken_as_it_is():
    content = document()
    assert look_at(content).media_type == "application/pdf"
    assert look_at(content).content == content


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<html><script>alert(1)</script></html>",
        b"MZ\x90\x00 a program",
        b"%PDF-1.7 cut off",
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
    with pytest.raises(FileUnusable, match="too many"):
        look_at(picture("PNG"))
