"""What a file handed in really is, and the file without the place where it was taken.

A photo is recognised and read whole by Pillow, not by its name. What it tells about place and device (GPS, XMP,
comments), and whatever hangs behind it, is left out (see `photo_facts`); its points and its turning stay as they are.
A PDF is taken as it is: it only ever leaves as a download.
"""

import io
import re
from dataclasses import dataclass

from PIL import Image

from jobs.calculations.photo_facts import JPEG_START, ORIENTATION, PictureCutShort, without_facts

# A photo of several pictures, as telephones take them, is a JPEG with more behind it.
KINDS = {"JPEG": "JPEG", "MPO": "JPEG", "PNG": "PNG", "WEBP": "WEBP"}
MEDIA_TYPES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "application/pdf": ".pdf"}
# A telephone's photo has 12 to 50 million points; unpacked, each takes three or four bytes of the server's memory.
MOST_POINTS = 52_000_000
# TIFF 6.0, tag Orientation.
_TURNINGS = range(1, 9)
_PDF_END = re.compile(rb"startxref\s+(\d{1,10})\s+%%EOF")
_PDF_TABLE = re.compile(rb"\bxref\b|\b\d+\s+\d+\s+obj\b")


class FileUnusable(ValueError):
    """The file is none of the kinds taken, or is broken. The message says what it is not."""


class TooManyPoints(FileUnusable):
    """The picture is too large to be unpacked."""


@dataclass(frozen=True)
class FileSeen:
    """What is kept: the content, its media type, and whether something was taken out of it."""

    content: bytes
    media_type: str
    cleaned: bool


def look_at(content: bytes) -> FileSeen:
    """Tell what a file is and clean it. Raises `FileUnusable`, `TooManyPoints`."""
    if not content:
        raise FileUnusable("The file is empty.")
    if content.startswith(b"%PDF-"):
        _must_be_whole(content)
        return FileSeen(content, "application/pdf", cleaned=False)
    return _picture(content)


def _must_be_whole(content: bytes) -> None:
    """A PDF ends by saying where its table of objects stands (ISO 32000-1:2008, 7.5.5), and there one stands."""
    ends = _PDF_END.findall(content[-2048:])
    if not ends:
        raise FileUnusable("The PDF has no end; it was cut off on its way.")
    place = int(ends[-1])
    if not _PDF_TABLE.search(content, max(place - 16, 0), place + 64):
        raise FileUnusable("The PDF is broken: its table of objects is not where it says.")


def _picture(content: bytes) -> FileSeen:
    try:
        kind, turning = _what_it_is(content)
        kept = without_facts(content, kind, turning)
        with Image.open(io.BytesIO(kept), formats=[kind]) as picture:
            _must_not_be_too_large(picture)
            picture.load()
    except FileUnusable:
        raise
    except Image.UnidentifiedImageError as error:
        raise FileUnusable("The file is no JPEG, PNG or WebP picture and no PDF.") from error
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise TooManyPoints(f"The picture has more than {_millions(MOST_POINTS)} million points.") from error
    except PictureCutShort as error:
        raise FileUnusable("The picture is broken: it was cut off on its way.") from error
    # A broken picture can fail in any way that the bytes suggest.
    except Exception as error:
        raise FileUnusable("The picture is broken.") from error
    return FileSeen(kept, MEDIA_TYPES[kind], cleaned=kept != content)


def _what_it_is(content: bytes) -> tuple[str, int | None]:
    """Its kind and its turning, told by its head: nothing is unpacked."""
    if content.startswith(JPEG_START):
        # Pillow looks for segments byte by byte, for seconds where there are none.
        without_facts(content, "JPEG", None)
    with Image.open(io.BytesIO(content), formats=list(MEDIA_TYPES)) as seen:
        _must_not_be_too_large(seen)
        turning = seen.getexif().get(ORIENTATION)
        return KINDS[str(seen.format)], turning if turning in _TURNINGS else None


def _must_not_be_too_large(picture: Image.Image) -> None:
    points = picture.width * picture.height
    if points > MOST_POINTS:
        raise TooManyPoints(
            f"The picture has {picture.width} x {picture.height} points, {_millions(points)} million together; "
            f"at most {_millions(MOST_POINTS)} million are taken."
        )


def _millions(points: int) -> str:
    return f"{points / 1e6:.0f}" if points >= 10**6 else f"{points / 1e6:.3f}"
