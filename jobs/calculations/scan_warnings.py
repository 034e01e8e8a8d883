"""What must be said first when a label is scanned.

Signal words mean what ISO 3864-2 and ANSI Z535 mean by them (value from memory).

The service supports trained people; site rules, permits and local law come before anything said here.
"""

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from assets.calculations.written_numbers import plain

SignalWord = Literal["danger", "warning", "caution", "notice"]
EXPIRING_DAYS = 90
_ORDER = {"danger": 0, "warning": 1, "caution": 2, "notice": 3}


@dataclass(frozen=True)
class Warned:
    """One thing to be said: the signal word, a code for programs, a sentence for people."""

    signal_word: SignalWord
    code: str
    text: str


@dataclass(frozen=True)
class OnShelf:
    """A quantity of one lot as far as warnings go."""

    what: str
    quantity: Decimal
    quarantined: bool
    expires_on: datetime.date | None


def gravest_first(found: Iterable[Warned]) -> list[Warned]:
    """Danger before warning before caution before notice, else in the order given."""
    return sorted(found, key=lambda one: _ORDER[one.signal_word])


def is_expired(expires_on: datetime.date | None, on: datetime.date) -> bool:
    """Whether the last day of use has passed."""
    return expires_on is not None and expires_on < on


def expiry_warnings(what: str, expires_on: datetime.date | None, on: datetime.date) -> list[Warned]:
    """That a lot is out of date, or soon will be."""
    if expires_on is None:
        return []
    last = expires_on.isoformat()
    if is_expired(expires_on, on):
        return [Warned("warning", "lot-expired", f"Do not fit: {what} is out of date, the last day of use was {last}.")]
    left = (expires_on - on).days
    if left <= EXPIRING_DAYS:
        days = "that is today" if left == 0 else f"{left} day{'s' if left != 1 else ''} left"
        return [Warned("notice", "lot-expiring", f"{what}: the last day of use is {last}, {days}.")]
    return []


def quarantine_warnings(shelf: Iterable[OnShelf]) -> list[Warned]:
    """What on a shelf is quarantined."""
    return [
        Warned("warning", "lot-quarantined", f"Do not fit: {plain(one.quantity)} of {one.what} is quarantined.")
        for one in shelf
        if one.quarantined
    ]


def shelf_warnings(shelf: Iterable[OnShelf], on: datetime.date) -> list[Warned]:
    """What on a shelf must not be fitted: quarantined, or out of date."""
    lying = list(shelf)
    expired = [
        warned
        for one in lying
        if is_expired(one.expires_on, on)
        for warned in expiry_warnings(one.what, one.expires_on, on)
    ]
    return list(dict.fromkeys([*quarantine_warnings(lying), *expired]))


def pump_warnings(*, fluid: str, hazard: str, lowest_c: Decimal, highest_c: Decimal) -> list[Warned]:
    """What a pump says before anybody opens it: making safe, the fluid's hazard, its temperature. Never left out."""
    between = f"{plain(lowest_c)} to {plain(highest_c)} °C"
    told = hazard.strip() or "No hazard is recorded for this fluid; ask before opening."
    return [
        Warned(
            "danger",
            "make-safe",
            "Before opening: isolate, lock and tag, prove dead, depressurise, drain and cool. "
            "Site rules, permits and local law come first.",
        ),
        Warned("warning", "fluid-hazard", f"Fluid: {fluid}. {told}"),
        Warned("caution", "fluid-temperature", f"Runs at {between}."),
    ]


def kit_warnings(state: str) -> list[Warned]:
    """That a revision of a kit is not the one to use."""
    if state == "withdrawn":
        return [
            Warned("warning", "kit-withdrawn", "This revision of the kit is withdrawn. Ask stores which one to take.")
        ]
    if state == "draft":
        return [Warned("warning", "kit-draft", "This revision of the kit is a draft and not released for use.")]
    return []
