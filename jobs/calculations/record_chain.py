"""One chain over the records of all closed jobs: each link is sealed with a key, over its content and the link before.

The seal is HMAC-SHA256 (RFC 2104, FIPS 180-4) over the canonical JSON (RFC 8785) of the link's number, job, content
hash, time, key id and the seal of the link before. Whoever lacks the key can neither alter a link, nor put one in, nor
move one. What was cut off at the end shows only against a head that was kept elsewhere.
"""

import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jobs.calculations.signed_content import canonical_form

# What the first link names as the seal before it.
BEGINNING = "0" * 64


@dataclass(frozen=True)
class Link:
    """A link of the chain. ``at`` is the time of the signature as text in UTC; seals are 64 hex digits."""

    number: int
    job: str
    content_hash: str
    at: str
    previous_mac: str
    key_id: str
    mac: str = ""


@dataclass(frozen=True)
class Fault:
    """Something that does not hold: a code, where, and a sentence for people."""

    code: str
    place: str
    sentence: str


def seal(link: Link, key: bytes) -> str:
    """The seal of a link as 64 hex digits; a seal that it carries does not count."""
    content = {
        "number": link.number,
        "job": link.job,
        "content_hash": link.content_hash,
        "at": link.at,
        "previous_mac": link.previous_mac,
        "key_id": link.key_id,
    }
    return hmac.new(key, canonical_form(content), "sha256").hexdigest()


def seal_faults(link: Link, keys: Mapping[str, bytes]) -> list[Fault]:
    """Whether a link carries the seal of its own content; nothing can be said where its key is not at hand."""
    place = f"link {link.number}"
    key = keys.get(link.key_id)
    if key is None:
        return [
            Fault(
                "key-missing",
                place,
                f"Link {link.number} was sealed with the key {link.key_id!r}, which is not at hand: nothing can be "
                "said about its seal.",
            )
        ]
    if not hmac.compare_digest(seal(link, key), link.mac):
        return [
            Fault(
                "seal-broken",
                place,
                f"Link {link.number} does not carry the seal of what it holds: it was altered, or put in by somebody "
                "without the key.",
            )
        ]
    return []


def order_faults(link: Link, before: Link | None) -> list[Fault]:
    """Whether a link follows the one before it. ``before`` is None for the first that is there."""
    expected = 1 if before is None else before.number + 1
    place = f"link {link.number}"
    if link.number > expected:
        one = link.number == expected + 1
        gone = f"Link {expected} was" if one else f"Links {expected} to {link.number - 1} were"
        return [Fault("link-missing", f"link {expected}", f"{gone} deleted: link {link.number} comes next.")]
    if link.number < expected:
        return [Fault("order-changed", place, f"Link {link.number} comes after link {expected - 1}.")]
    if link.previous_mac != (BEGINNING if before is None else before.mac):
        after = "the beginning" if before is None else f"link {before.number}"
        return [
            Fault(
                "order-changed",
                place,
                f"Link {link.number} was not made to follow {after} as it stands: links were altered, exchanged or "
                "put in between.",
            )
        ]
    return []


NEAR = 50


def moved_from(link: Link, follows: int | None, keys: Mapping[str, bytes]) -> int | None:
    """The number that a link with a broken seal was sealed under: the one after ``follows``, the link whose seal it
    names, or one of the `NEAR` numbers before and after its own. None where it was sealed under none of them."""
    key = keys.get(link.key_id)
    if key is None:
        return None
    near = range(max(1, link.number - NEAR), link.number + NEAR + 1)
    for was in [*([] if follows is None else [follows + 1]), *near]:
        there = Link(was, link.job, link.content_hash, link.at, link.previous_mac, link.key_id)
        if was != link.number and hmac.compare_digest(seal(there, key), link.mac):
            return was
    return None


def head_faults(head: Mapping[str, Any], found: Link | None, last: int) -> list[Fault]:
    """Whether the link that an exported head names is still there. ``found`` is the link of its number."""
    number = int(head["number"])
    if number == 0:
        return []
    if found is None:
        return [
            Fault(
                "tail-cut",
                f"link {number}",
                f"The exported head is link {number}, but the chain ends with link {last}: its end was cut off.",
            )
        ]
    if not hmac.compare_digest(found.mac, str(head["mac"])):
        return [
            Fault(
                "head-differs",
                f"link {number}",
                f"Link {number} carries another seal than the exported head: the chain was made anew from there or "
                "from before.",
            )
        ]
    return []


MOST_DIFFERENCES = 20


def differences(signed: Any, now: Any, place: str = "") -> list[tuple[str, str]]:
    """Where what is there now differs from what was signed: (place, sentence), at most `MOST_DIFFERENCES`.

    Whatever the signed record does not speak of is left out, so that records stay good when later ones hold more.
    """
    found: list[tuple[str, str]] = []
    _compare(signed, now, place, found)
    return found[:MOST_DIFFERENCES]


def _compare(signed: Any, now: Any, place: str, found: list[tuple[str, str]]) -> None:
    if len(found) >= MOST_DIFFERENCES:
        return
    if isinstance(signed, Mapping) and isinstance(now, Mapping):
        for name, value in signed.items():
            if name not in now:
                found.append((f"{place}/{name}", f"{_words(value)} was signed; it is gone."))
            else:
                _compare(value, now[name], f"{place}/{name}", found)
    elif isinstance(signed, list) and isinstance(now, list):
        _compare_rows(signed, now, place, found)
    elif signed != now or type(signed) is not type(now):
        found.append((place, f"{_words(signed)} was signed; now it is {_words(now)}."))


def _compare_rows(signed: list[Any], now: list[Any], place: str, found: list[tuple[str, str]]) -> None:
    """Rows that have an id are compared by it, others by their place."""
    if not all(isinstance(one, Mapping) and "id" in one for one in [*signed, *now]):
        for index, one in enumerate(signed):
            if index < len(now):
                _compare(one, now[index], f"{place}/{index}", found)
            else:
                found.append((f"{place}/{index}", f"{_words(one)} was signed; it is gone."))
        found.extend(
            (f"{place}/{index}", "was not there when it was signed.") for index in range(len(signed), len(now))
        )
        return
    by_id = {one["id"]: one for one in now}
    for one in signed:
        if one["id"] in by_id:
            _compare(one, by_id.pop(one["id"]), f"{place}/{one['id']}", found)
        else:
            found.append((f"{place}/{one['id']}", "was signed; it is gone."))
    found.extend((f"{place}/{one}", "was not there when it was signed.") for one in by_id)


def _words(value: Any) -> str:
    text = "nothing" if value in (None, "") else str(value)
    return text if len(text) <= 80 else f"{text[:77]}…"
