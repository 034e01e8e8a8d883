"""How a computation of the trade is offered to whoever asks: what goes in, what comes out, and on whose word.

A declaration holds no arithmetic: it names the pure function that does it and says what its figures mean.
"""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum
from typing import Any

from assets.calculations.written_numbers import plain

MEMORY = "value from memory"
PRACTICE = "common practice, no source"
COMPARED = "compared with an independent source by the tests"
PHYSICS = "plain physics, no figure of the standard is used"

LOCAL_RULES = "The maker's instructions, the site's rules and local codes come before this figure."


class Kind(Enum):
    """What is written for an input."""

    QUANTITY = "quantity"
    NUMBER = "number"
    WHOLE = "whole number"
    CHOICE = "choice"
    FLAG = "yes or no"
    TEXT = "text"
    ROWS = "rows"


class InputWrong(ValueError):
    """One input cannot be used: its name (or place, such as ``points/2/flow``), what is wrong, what would help."""

    def __init__(self, name: str, what: str, remedy: str = "", *, code: str = "invalid-value") -> None:
        super().__init__(f"{what} {remedy}".strip())
        self.name, self.what, self.remedy, self.code = name, what, remedy, code


@dataclass(frozen=True)
class Input:
    """``least`` and ``greatest``, in ``unit``, belong to what is allowed; an ``optional`` input may be left out, and
    then ``usual`` counts where there is one."""

    name: str
    kind: Kind
    words: str
    unit: str = ""
    least: Decimal | None = None
    greatest: Decimal | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False
    usual: Any = None
    columns: tuple["Input", ...] = ()

    def range_words(self) -> str:
        """What is allowed, in words; empty where everything of its kind is."""
        if self.choices:
            return "one of " + ", ".join(self.choices)
        if self.least is None or self.greatest is None:
            return ""
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"{plain(self.least)} to {plain(self.greatest)}{unit}"
            if self.kind is not Kind.ROWS
            else (f"{plain(self.least)} to {plain(self.greatest)} rows")
        )


@dataclass(frozen=True)
class Output:
    """A result; ``places`` says how finely a number is shown. Empty unit: a plain number, words, or yes or no."""

    name: str
    words: str
    unit: str = ""
    places: int = 3


@dataclass(frozen=True)
class Source:
    """Whose figure or formula it is: standard, its edition, the place in it, and how sure this service is of it."""

    standard: str
    edition: str
    place: str
    confidence: str

    def words(self) -> str:
        """In one line, for pages and records."""
        head = f"{self.standard}:{self.edition}" if self.edition else self.standard
        body = ", ".join(one for one in (head, self.place) if one)
        if self.confidence == self.standard:
            return self.confidence
        return f"{body} ({self.confidence})" if self.confidence else body


RULE_OF_THE_SHOP = Source(PRACTICE, "", "", PRACTICE)


@dataclass(frozen=True)
class Outcome:
    """Results by name; None for one that does not apply. Sources and cautions are added to the declared ones."""

    values: Mapping[str, Any]
    sentence: str
    sources: tuple[Source, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Calculation:
    """One computation as it is offered; ``example`` is a request that ``perform`` answers."""

    name: str
    title: str
    family: str
    formula: str
    inputs: tuple[Input, ...]
    outputs: tuple[Output, ...]
    sources: tuple[Source, ...]
    cautions: tuple[str, ...]
    example: Mapping[str, Any]
    perform: Callable[..., Outcome]


def quantity(
    name: str, unit: str, least: str, greatest: str, words: str, *, optional: bool = False, usual: str | None = None
) -> Input:
    """A number with a unit."""
    usual_value = None if usual is None else Decimal(usual)
    found = Input(name, Kind.QUANTITY, words, unit, Decimal(least), Decimal(greatest))
    return _may_be_left_out(found, optional, usual_value)


def number(
    name: str, least: str, greatest: str, words: str, *, optional: bool = False, usual: str | None = None
) -> Input:
    """A plain number."""
    usual_value = None if usual is None else Decimal(usual)
    return _may_be_left_out(
        Input(name, Kind.NUMBER, words, "", Decimal(least), Decimal(greatest)), optional, usual_value
    )


def whole(name: str, least: int, greatest: int, words: str, *, optional: bool = False) -> Input:
    """A whole number."""
    return Input(name, Kind.WHOLE, words, "", Decimal(least), Decimal(greatest), optional=optional)


def choice(
    name: str, choices: tuple[str, ...], words: str, *, optional: bool = False, usual: str | None = None
) -> Input:
    """One of a few words."""
    return _may_be_left_out(Input(name, Kind.CHOICE, words, choices=choices), optional, usual)


def flag(name: str, words: str) -> Input:
    """Yes or no; no where it is left out."""
    return Input(name, Kind.FLAG, words, optional=True, usual=False)


def text(name: str, words: str, *, optional: bool = False, usual: str | None = None) -> Input:
    """A short text with a meaning of its own, such as a tolerance class."""
    return _may_be_left_out(Input(name, Kind.TEXT, words), optional, usual)


def rows(name: str, columns: tuple[Input, ...], least: int, greatest: int, words: str) -> Input:
    """A list of rows of inputs."""
    return Input(name, Kind.ROWS, words, "", Decimal(least), Decimal(greatest), columns=columns)


def _may_be_left_out(one: Input, optional: bool, usual: Any) -> Input:
    left_out = optional or usual is not None
    return Input(
        one.name, one.kind, one.words, one.unit, one.least, one.greatest, one.choices, left_out, usual, one.columns
    )


def of(value: str, unit: str) -> dict[str, str]:
    """A quantity as a request writes it."""
    return {"value": value, "unit": unit}


@contextmanager
def blames(name: str, *errors: type[Exception]) -> Iterator[None]:
    """What these errors say is said of the input of this name."""
    try:
        yield
    except errors as error:
        raise InputWrong(name, str(error)) from error
