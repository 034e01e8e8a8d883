"""What a file handed in really is, and the file without the place where it was taken.

A photo is recognised and read whole by Pillow, not by its name. Facts about place and device (GPS, XMP, comments) are
taken out by writing the picture anew where it holds any: JPEG with its own quantisation tables, PNG without loss, WebP
at quality 90. Its turning (EXIF orientation) is kept. A PDF is taken as it is: it only ever leaves as a download.
"""

import io
import warnings
from dataclasses import dataclass

from PIL import Image

KINDS = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}
ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "application/pdf": ".pdf"}
# A photo of a modern telephone has 12 to 50 million points; more than this is a bomb or a poster.
MOST_POINTS = 100_000_000
_ORIENTATION = 0x0112
# What of a picture's facts is needed to show it rightly.
_HARMLESS = frozenset({
    "jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi", "adobe", "adobe_transform", "progressive",
    "progression", "icc_profile", "gamma", "srgb", "chromaticity", "transparency", "background", "loop", "duration",
    "timestamp", "interlace",
})  # fmt: skip


class FileUnusable(ValueError):
    """The file is none of the kinds taken, or is broken. The message says what it is not."""


@dataclass(frozen=True)
class FileSeen:
    """What is kept: the content, its media type, and whether something was taken out of it."""

    content: bytes
    media_type: str
    cleaned: bool


def look_at(content: bytes) -> FileSeen:
    """Tell what a file is and clean it. Raises `FileUnusable`."""
    if not content:
        raise FileUnusable("The file is empty.")
    if content.startswith(b"%PDF-"):
        if b"%%EOF" not in content[-2048:]:
            raise FileUnusable("The PDF has no end; it was cut off on its way.")
        return FileSeen(content, "application/pdf", cleaned=False)
    return _picture(content)


def _picture(content: bytes) -> FileSeen:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=list(KINDS)) as seen:
                if seen.width * seen.height > MOST_POINTS:
                    raise FileUnusable(f"The picture has {seen.width} x {seen.height} points; that is too many.")
                seen.verify()
            with Image.open(io.BytesIO(content), formats=list(KINDS)) as picture:
                picture.load()
                kind = str(picture.format)
                kept = _without_facts(picture) if _tells(picture) else content
    except FileUnusable:
        raise
    except Image.UnidentifiedImageError as error:
        raise FileUnusable("The file is no JPEG, PNG or WebP picture and no PDF.") from error
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise FileUnusable("The picture has too many points.") from error
    # A broken picture can fail in any way that the bytes suggest.
    except Exception as error:
        raise FileUnusable("The picture is broken.") from error
    return FileSeen(kept, KINDS[kind], cleaned=kept is not content)


def _tells(picture: Image.Image) -> bool:
    """Whether the picture holds facts beyond those needed to show it."""
    beyond = set(map(str, picture.info)) - _HARMLESS
    return bool(beyond) and not (beyond == {"exif"} and set(picture.getexif()) == {_ORIENTATION})


def _without_facts(picture: Image.Image) -> bytes:
    facts = picture.getexif()
    kept = Image.Exif()
    if _ORIENTATION in facts:
        kept[_ORIENTATION] = facts[_ORIENTATION]
    out = io.BytesIO()
    given = {"exif": kept.tobytes()} if len(kept) else {}
    if picture.info.get("icc_profile"):
        given["icc_profile"] = picture.info["icc_profile"]
    kind = picture.format
    for name in set(picture.info) - {"transparency"}:
        if str(name) not in _HARMLESS:
            picture.info.pop(name)
    if kind == "JPEG":
        picture.save(out, "JPEG", quality="keep", **given)
    elif kind == "PNG":
        picture.save(out, "PNG", **given)
    else:
        picture.save(out, "WEBP", quality=90, **given)
    return out.getvalue()
