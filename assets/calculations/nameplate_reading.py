"""What a nameplate says, read from typed or scanned lines.

Labels are those that the trade writes in English, German, French, Spanish and Norwegian (common practice, no source).
EN 809 asks a pump's plate at least for maker, type, year and serial number (value from memory).
"""

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from decimal import Decimal

from assets.calculations.plate_text import parse_size, plain, tidy, tokens, trigrams
from assets.calculations.units import NumberUnreadable, parse_decimal

LONGEST_TEXT, MOST_LINES = 2000, 40
MINIMUM = (("maker", "maker"), ("type_text", "type"), ("serial", "serial number"), ("year", "year"))
# How alike a part of a line and a maker's name must be (common practice, no source).
MAKER_ALIKE = 0.6

_NO = r"(?:no|nr|nummer|number)"
_LABELS = {
    "type": r"(?:pump(?:e|en|s)?[ -]?)?typ(?:e|en)?(?: de (?:la )?(?:pompe|bomba))?|modell?|modele|modelo"
    r"|tipo(?: de bomba)?|baureihe(?: ?/ ?gro(?:ss|ß)e)?|series",
    "serial": rf"s ?/ ?n|serial(?: ?{_NO})?|ser\.? ?(?:no|nr)|serien[ -]?{_NO}|serie ?nr|serienummer"
    rf"|(?:fabr(?:ik)?|werks?|masch(?:inen)?)\.?[ -]?{_NO}|produksjons(?:nr|nummer)|pump(?:e|en)?[ -]?(?:no|nr)"
    r"|(?:n[o°º]?|num(?:ero)?)\.?[ º°]*(?:de |d')?(?:serie|fabricacion|fabrication)",
    "year": r"year(?: of (?:manufacture|construction|build))?|built|baujahr|bj"
    r"|annee(?: de (?:fabrication|construction))?|ano(?: de (?:fabricacion|construccion))?|bygge?ar|produksjonsar|ar",
    "maker": r"maker|made by|manufacturer|mfr|hersteller|fabricante?|produsent|constructeur",
    "aside": r"(?:item|art(?:ikel|icle)?|order|tag|project|kunden?|commission|auftrags?|pos|motor|commande|pedido"
    rf"|ordre)\.?[ -]?(?:{_NO}|n[°º])?",
    "number": r"no|nr|n[°º]|№",
}
_LABEL = re.compile(
    r"(?<![\w/])(?:"
    + "|".join(f"(?P<{name}>{words})" for name, words in _LABELS.items())
    + r")\.?(?:\s*[:=#]|(?=\s)|$)"
)
_NUMBER = r"(\d+(?:[ .,]\d{3}(?!\d))*(?:[.,]\d+)?)"
_SPEED_UNITS = "rpm|r/min|1/min|min\\^?-1|u/min|tr/min|o/min|omdr/min"
_HEAD_WORDS = "h(?:max|n)?|head|forderhohe|hauteur|altura|loftehoyde|hmt"
_FIGURES = (
    ("flow_m3_h", re.compile(rf"(?:\bq(?:max|n)?\s*[:=]?\s*)?{_NUMBER}\s*(m\^?3/h|cbm/h|l/s|l/min)(?![a-z0-9])")),
    ("speed_rpm", re.compile(rf"(?:\bn\s*[:=]?\s*)?{_NUMBER}\s*({_SPEED_UNITS})(?![a-z0-9])")),
    ("power_kw", re.compile(rf"(?:\bp[12n]?\s*[:=]?\s*)?{_NUMBER}\s*(kw|hp|ps|cv)(?![a-z0-9])")),
    ("head_m", re.compile(rf"\b(?:{_HEAD_WORDS})\s*[:=]?\s*{_NUMBER}\s*(m)(?![a-z0-9])")),
)
# Definitions: the litre; mechanical horsepower 550 ft lbf/s; metric horsepower 75 kgf m/s.
_FACTORS = {
    "l/s": Decimal("3.6"),
    "l/min": Decimal("0.06"),
    "hp": Decimal("0.74569987158227022"),
    "ps": Decimal("0.73549875"),
    "cv": Decimal("0.73549875"),
}
_OTHER_FIGURES = re.compile(
    r"\b(?:max\.?\s*)?(?:pn\s*\d+|\d+(?:[.,]\d+)?\s*(?:bar|mpa|kpa|hz|v|a|kg|°c|degc|mm|%)(?![a-z0-9])|ip\s?\d\d|p\s?max|t\s?max)"
)
_YEAR = re.compile(r"(?<!\d)(19\d\d|20\d\d)(?!\d)")


@dataclass(frozen=True)
class Reading:
    """What was read. Empty texts, no year and missing figures were not read; ``figures`` are in the units that their
    names tell. ``lines`` could not be given to anything."""

    maker: str = ""
    type_text: str = ""
    serial: str = ""
    year: int | None = None
    figures: dict[str, Decimal] = field(default_factory=dict)
    lines: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    def missing_of_minimum(self) -> list[str]:
        """What EN 809 asks a plate to say (value from memory) and was not read."""
        return [words for name, words in MINIMUM if not getattr(self, name)]


def read_plate(text: str, *, makers: Iterable[str] = ()) -> Reading:
    """A reading of free text, one plate line a line. ``makers``: names that are looked for where no label says it.

    Text beyond 2000 signs or 40 lines is not looked at, with a note.
    """
    notes: list[str] = []
    whole = tidy(text)
    rows = [one.strip() for one in whole[:LONGEST_TEXT].splitlines() if one.strip()]
    if len(whole) > LONGEST_TEXT or len(rows) > MOST_LINES:
        notes.append("only the first 40 lines or 2000 signs were looked at")
    figures: dict[str, Decimal] = {}
    rows = [_without_figures(one, figures, notes) for one in rows[:MOST_LINES]]
    found: dict[str, str] = {}
    left: list[str] = []
    waiting = ""
    for row in rows:
        pieces = _labelled(row)
        if waiting and not pieces[0][0] and pieces[0][1]:
            found.setdefault(waiting, pieces.pop(0)[1])
        waiting = ""
        for label, value in pieces:
            if not label and value:
                left.append(value)
            elif value:
                found.setdefault(label, value)
            elif label:
                waiting = label
    return _settled(found, left, figures, notes, makers)


def _settled(
    found: dict[str, str], left: list[str], figures: dict[str, Decimal], notes: list[str], makers: Iterable[str]
) -> Reading:
    maker = found.get("maker", "")
    if not maker:
        maker, left = _maker_among(left, makers)
        if maker:
            notes.append(f"{maker} was taken for the maker, since such a name stands on the plate")
    type_text = found.get("type", "")
    if not type_text:
        sized = next((one for one in left if parse_size(one)), "")
        if sized:
            type_text = sized
            left = [one for one in left if one != sized]
            notes.append(f"{sized!r} was taken for the type, since a size stands in it")
        elif len(left) == 1:
            type_text, left = left[0], []
            notes.append(f"{type_text!r} was taken for the type, since nothing else is left")
    serial = found.get("serial", "")
    if not serial and "number" in found:
        serial = found["number"]
        notes.append(f"{serial!r} was taken for the serial number, since nothing else is called so")
    year = _YEAR.search(found.get("year", ""))
    return Reading(
        maker=maker[:120],
        type_text=type_text[:120],
        serial=serial[:60],
        year=int(year[1]) if year else None,
        figures=figures,
        lines=tuple(left),
        notes=tuple(notes),
    )


def _without_figures(row: str, figures: dict[str, Decimal], notes: list[str]) -> str:
    for name, pattern in _FIGURES:
        while (one := pattern.search(plain(row))) is not None:
            value = _figure(one[1], name, notes)
            if value is not None:
                figures.setdefault(name, value * _FACTORS.get(one[2], Decimal(1)))
            row = f"{row[: one.start()]}   {row[one.end() :]}"
    while (one := _OTHER_FIGURES.search(plain(row))) is not None:
        row = f"{row[: one.start()]}   {row[one.end() :]}"
    return row.strip(" ,;")


def _figure(text: str, name: str, notes: list[str]) -> Decimal | None:
    if name == "speed_rpm" and re.fullmatch(r"\d{1,2}[ .,]\d{3}", text):
        notes.append(f"{text} 1/min read with thousands parted")
        return Decimal(re.sub(r"\D", "", text))
    try:
        value, note = parse_decimal(text)
    except NumberUnreadable:
        notes.append(f"{text} could be read in two ways and was left out")
        return None
    if note:
        notes.append(f"{text}: {note}")
    return value


def _labelled(row: str) -> list[tuple[str, str]]:
    """(label, value) pieces of a row in their order; what stands before the first label has none."""
    pieces: list[tuple[str, str]] = []
    label, start = "", 0
    for one in _LABEL.finditer(plain(row)):
        if one.start() < start:
            continue
        pieces.append((label, row[start : one.start()].strip(" :=.,;#")))
        label, start = str(one.lastgroup), one.end()
    pieces.append((label, row[start:].strip(" :=.,;#")))
    return [one for one in pieces if one[0] or one[1]] or [("", "")]


def _maker_among(lines: list[str], makers: Iterable[str]) -> tuple[str, list[str]]:
    """(maker's name, lines left) where some part of a line is written much like a maker's name."""
    windows: list[tuple[int, tuple[str, ...]]] = []
    for place, line in enumerate(lines):
        words = tokens(line)
        windows += [(place, words[a:b]) for a in range(len(words)) for b in range(a + 1, min(a + 5, len(words)) + 1)]
    holders: dict[str, list[int]] = {}
    sizes: list[int] = []
    for number, (_, words) in enumerate(windows):
        grams = trigrams(" ".join(words))
        sizes.append(len(grams))
        for gram in grams:
            holders.setdefault(gram, []).append(number)
    best = (MAKER_ALIKE, "", -1)
    for maker in makers:
        grams = trigrams(" ".join(tokens(maker)))
        shared = Counter(number for gram in grams for number in holders.get(gram, ()))
        for number, count in shared.items():
            alike = count / (len(grams) + sizes[number] - count)
            if alike > best[0] or (alike == best[0] and len(maker) > len(best[1])):
                best = (alike, maker, number)
    if best[2] < 0:
        return "", lines
    place, words = windows[best[2]]
    if len(words) < len(tokens(lines[place])):
        return best[1], lines
    return best[1], [one for number, one in enumerate(lines) if number != place]


def with_given(
    reading: Reading,
    *,
    maker: str = "",
    type_text: str = "",
    serial: str = "",
    year: int | None = None,
    figures: dict[str, Decimal] | None = None,
) -> Reading:
    """The reading with what was typed in fields of its own, which outranks what the text says; a note tells where the
    two differ."""
    notes = list(reading.notes)
    for words, read, given in (
        ("maker", reading.maker, maker),
        ("type", reading.type_text, type_text),
        ("serial number", reading.serial, serial),
    ):
        if read and given and tokens(read) != tokens(given):
            notes.append(f"the text says {read!r} for the {words}; {given!r} was taken, as given")
    if year and reading.year and year != reading.year:
        notes.append(f"the text says {reading.year} for the year; {year} was taken, as given")
    return replace(
        reading,
        maker=maker.strip() or reading.maker,
        type_text=type_text.strip() or reading.type_text,
        serial=serial.strip() or reading.serial,
        year=year or reading.year,
        figures=reading.figures | (figures or {}),
        notes=tuple(notes),
    )
