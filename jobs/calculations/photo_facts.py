"""The bytes of a picture with nothing but what shows it: no place, no device, no other file hidden in it or behind it.

Segments and chunks are kept or left out as they are, so no point of the picture changes: JPEG by its markers (ITU-T
T.81, annex B), PNG by its chunks (ISO/IEC 15948), WebP by its RIFF chunks (RFC 9649). Of what a camera tells, its
turning alone is written again. Of several pictures in one JPEG the first is kept.
"""

import re
import struct
import zlib
from collections.abc import Callable, Iterator

from PIL import Image

ORIENTATION = 0x0112
_EXIF = b"Exif\x00\x00"
# Far more than any camera writes, so that a file of empty pieces is not gone through for seconds.
MOST_PIECES = 100_000
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]", re.DOTALL)
JPEG_START = b"\xff\xd8"
_EOI, _SOS, _COMMENT, _APP0, _APP15 = 0xD9, 0xDA, 0xFE, 0xE0, 0xEF
# How a picture's colours are meant; every other application segment tells something else.
_JPEG_KEPT = ((0xE0, b"JFIF\x00"), (0xE2, b"ICC_PROFILE\x00"), (0xEE, b"Adobe"))
_PNG_START = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT = frozenset({
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"bKGD", b"hIST",
    b"pHYs", b"cICP", b"mDCV", b"cLLI", b"acTL", b"fcTL", b"fdAT",
})  # fmt: skip
_WEBP_KEPT = frozenset({b"VP8X", b"VP8 ", b"VP8L", b"ALPH", b"ANIM", b"ANMF", b"ICCP"})
_WEBP_EXIF, _WEBP_XMP = 0x08, 0x04


class PictureCutShort(ValueError):
    """The bytes end, or are none of the format's, before the picture does."""


def without_facts(content: bytes, kind: str, turning: int | None) -> bytes:
    """``content`` of the ``kind`` JPEG, PNG or WEBP, turned as ``turning`` (EXIF orientation) says.

    What tells nothing comes back to the byte. Raises `PictureCutShort`.
    """
    turned = b""
    if turning is not None:
        facts = Image.Exif()
        facts[ORIENTATION] = turning
        turned = facts.tobytes().removeprefix(_EXIF)
    try:
        return _CLEAN[kind](content, turned)
    except (struct.error, IndexError) as error:
        raise PictureCutShort(str(error)) from error


def _jpeg(content: bytes, turned: bytes) -> bytes:
    head: list[bytes] = []
    rest: list[bytes] = []
    for marker, piece in _segments(content):
        said = piece[4:]
        if marker == _COMMENT or (_APP0 <= marker <= _APP15 and not _shows_jpeg(marker, said)):
            continue
        # A reader looks for JFIF first, then for the turning.
        (head if marker == _APP0 else rest).append(piece)
    if turned:
        said = _EXIF + turned
        head.append(struct.pack(">BBH", 0xFF, 0xE1, len(said) + 2) + said)
    return JPEG_START + b"".join(head) + b"".join(rest)


def _shows_jpeg(marker: int, said: bytes) -> bool:
    return any(marker == kept and said.startswith(sign) for kept, sign in _JPEG_KEPT)


def _segments(content: bytes) -> Iterator[tuple[int, bytes]]:
    """Marker and bytes of each segment after the start, entropy coded data with its header; ends with the picture."""
    at = len(JPEG_START)
    for _ in range(MOST_PIECES):
        at = _next_marker(content, at)
        marker = content[at + 1]
        if marker == _EOI:
            yield marker, content[at : at + 2]
            return
        (length,) = struct.unpack_from(">H", content, at + 2)
        end = at + 2 + length
        if marker == _SOS:
            end = _next_marker(content, end)
        if length < 2 or end > len(content):
            raise PictureCutShort(f"the segment at byte {at} is longer than the file")
        yield marker, content[at:end]
        at = end
    raise PictureCutShort("the picture is in too many pieces")


def _next_marker(content: bytes, at: int) -> int:
    """Where the next marker stands that is no stuffed byte and no restart; readers skip what fills the way there."""
    found = _NEXT_MARKER.search(content, at)
    if found is None:
        raise PictureCutShort("the picture has no end")
    return found.start()


def _png(content: bytes, turned: bytes) -> bytes:
    kept, at = [_PNG_START], len(_PNG_START)
    for _ in range(MOST_PIECES):
        length, name = struct.unpack_from(">I4s", content, at)
        end = at + 12 + length
        if end > len(content):
            raise PictureCutShort(f"the chunk at byte {at} is longer than the file")
        if name in _PNG_KEPT:
            kept.append(content[at:end])
        if name == b"IHDR" and turned:
            kept.append(_png_chunk(b"eXIf", turned))
        if name == b"IEND":
            return b"".join(kept)
        at = end
    raise PictureCutShort("the picture is in too many pieces")


def _png_chunk(name: bytes, said: bytes) -> bytes:
    return struct.pack(">I", len(said)) + name + said + struct.pack(">I", zlib.crc32(name + said))


def _webp(content: bytes, turned: bytes) -> bytes:
    (size,) = struct.unpack_from("<I", content, 4)
    if 8 + size > len(content):
        raise PictureCutShort("the picture has no end")
    kept: list[tuple[bytes, bytes]] = []
    at = 12
    for _ in range(MOST_PIECES):
        if at + 8 > 8 + size:
            break
        name, length = struct.unpack_from("<4sI", content, at)
        if name in _WEBP_KEPT:
            kept.append((name, content[at + 8 : at + 8 + length]))
        at += 8 + length + length % 2
    if kept and kept[0][0] == b"VP8X":
        flags = kept[0][1][0] & ~(_WEBP_EXIF | _WEBP_XMP)
        if turned:
            flags |= _WEBP_EXIF
            kept.append((b"EXIF", turned))
        kept[0] = (b"VP8X", bytes([flags]) + kept[0][1][1:])
    body = b"WEBP" + b"".join(
        name + struct.pack("<I", len(said)) + said + b"\x00" * (len(said) % 2) for name, said in kept
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


_CLEAN: dict[str, Callable[[bytes, bytes], bytes]] = {"JPEG": _jpeg, "PNG": _png, "WEBP": _webp}
