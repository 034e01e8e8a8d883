"""Entity tags from row versions (RFC 9110): what a caller saw must still be so when a decision is made on it."""

import re
from typing import Any

from rest_framework.request import Request

from services.api.refusals import Malformed, VersionChanged, VersionMissing

_TAG = re.compile(r'^(?:W/)?"(\d{1,9})"$')


def etag(version: int) -> str:
    """The strong entity tag of a version."""
    return f'"{version}"'


def expected_version(request: Request) -> int:
    """The version named by If-Match. A W/ mark that a compressing proxy added is taken off.

    Raises `VersionMissing` where the header is absent, `Malformed` where it holds no tag of ours.
    """
    header = request.headers.get("If-Match", "").strip()
    if not header:
        raise VersionMissing(
            "This request decides on what was seen, but says not which version that was.",
            remedy='Read it, then send its ETag as If-Match, for example If-Match: "3".',
        )
    found = _TAG.match(header)
    if not found:
        raise Malformed(
            f"If-Match holds {header[:40]!r}, which is no tag of this service.",
            remedy='Send the ETag of the last read unchanged, for example "3".',
            pointer="If-Match",
        )
    return int(found.group(1))


def is_unchanged(request: Request, version: int) -> bool:
    """Whether If-None-Match names this version, so that 304 is the answer."""
    header = request.headers.get("If-None-Match", "")
    return any(part.strip().removeprefix("W/") == etag(version) for part in header.split(","))


def version_changed(what: str, now: Any) -> VersionChanged:
    """The refusal for an If-Match that no longer fits; ``now`` is the present version."""
    return VersionChanged(
        f"{what} is at version {now} by now.",
        remedy="Read it again, look at the difference, then repeat the request with the new ETag.",
        current_version=now,
        etag=etag(int(now)),
    )
