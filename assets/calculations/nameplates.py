"""Which pump model a nameplate belongs to: a score with its parts, a ranking, and whether it is sure enough.

The weights, the threshold and the margin are common practice, no source. A figure wrong in a size, another maker or
another number in a series is another pump however alike the texts are: such a model is never taken for found.
"""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from assets.calculations.nameplate_reading import Reading
from assets.calculations.plate_text import (
    Size,
    SizedText,
    compact_key,
    find_misread_size,
    parse_size,
    similarity,
    tokens,
)

# What share of the score each part has; parts that the plate does not tell (maker, figures) are left out of the sum.
WEIGHTS = {"maker": 0.2, "series": 0.35, "size": 0.35, "figures": 0.1}
THRESHOLD, MARGIN = 0.8, 0.1
# A reading by the weak key; a text that is alike but not the same; a size that the one says more of than the other.
MISREAD, ALIKE, MORE_SAID = 0.95, 0.7, 0.7
ANOTHER_NUMBER, ANOTHER_MAKER = 0.3, 0.3
CONTRADICTED = 0.5
MOST_LINES_TRIED = 8


@dataclass(frozen=True)
class PlateModel:
    """A model of the catalogue as a plate may name it."""

    id: uuid.UUID
    code: str
    maker_code: str
    maker: str
    series: str
    designation: str
    configuration: str
    rated_speed_rpm: Decimal
    rated_power_kw: Decimal
    shaft_diameter_at_seal_mm: Decimal

    @property
    def type_text(self) -> str:
        """Series and size as they stand on the plate."""
        return f"{self.series} {self.designation}"


@dataclass(frozen=True)
class Match:
    """How well a model answers to a reading.

    ``score`` and ``parts`` 0 to 1 (None: the plate does not tell); ``exact``: series and size are written the same;
    ``against``: names of parts that speak against the model, whatever the score.
    """

    model: PlateModel
    score: float
    parts: dict[str, float | None]
    exact: bool
    against: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Type:
    series: float = 0.0
    size: float = 0.0
    exact: bool = False
    against: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def score_model(reading: Reading, model: PlateModel) -> Match:
    """The score of one model: the weighted mean of its parts, halved where something speaks against it.

    Series and size count as nothing where the plate was not read for them, so a maker alone finds no model.
    """
    texts = [reading.type_text] if reading.type_text else list(reading.lines[:MOST_LINES_TRIED])
    tried = [_compare_type(text, model) for text in texts]
    kind = max(tried, key=lambda one: (not one.against, one.series + one.size), default=_Type())
    maker = maker_alike(reading.maker, model.maker, model.maker_code) if reading.maker else None
    figures = _figures_alike(reading, model)
    parts = {"maker": maker, "series": kind.series, "size": kind.size, "figures": figures}
    against = kind.against + (("maker",) if maker is not None and maker < ANOTHER_MAKER else ())
    told = {name: value for name, value in parts.items() if value is not None}
    score = sum(WEIGHTS[name] * value for name, value in told.items()) / sum(WEIGHTS[name] for name in told)
    shown = {name: None if value is None else round(value, 3) for name, value in parts.items()}
    return Match(model, round(score * (CONTRADICTED if against else 1), 3), shown, kind.exact, against, kind.notes)


def rank(reading: Reading, models: Iterable[PlateModel]) -> list[Match]:
    """All models scored, the best first; among equals one that nothing speaks against, then the more alike text."""
    read = " ".join(tokens(reading.type_text or " ".join(reading.lines[:MOST_LINES_TRIED])))

    def order(one: Match) -> tuple[float | bool | str, ...]:
        alike = similarity(read, " ".join(tokens(one.model.type_text)))
        return -one.score, bool(one.against), not one.exact, -alike, one.model.maker, one.model.code

    return sorted((score_model(reading, one) for one in models), key=order)


def rivals(ranked: Sequence[Match], *, margin: float = MARGIN) -> list[Match]:
    """The matches too near to the best one to be told from it.

    One that is written exactly so is not near to others that are not. Where the plate says more after the size than
    the best match, its siblings that have something there are near, since what follows seems to matter.
    """
    if not ranked:
        return []
    best = ranked[0]
    size = best.parts["size"] or 0.0
    family = _family(best.model) if not best.exact and size <= MORE_SAID else None
    return [
        one
        for one in ranked[1:]
        if (one.score > best.score - margin - 1e-9 and not (best.exact and not one.exact))
        or (family is not None and _family(one.model) == family)
    ]


def _family(model: PlateModel) -> tuple[object, ...] | None:
    size = parse_size(model.designation)
    return (model.maker_code, tokens(model.series), size.size.numbers) if size else None


def is_found(ranked: Sequence[Match], *, threshold: float = THRESHOLD, margin: float = MARGIN) -> bool:
    """Whether the best match may be taken without asking: at or above the threshold, nothing speaks against it, and
    no other within the margin."""
    if not ranked:
        return False
    best = ranked[0]
    return best.score >= threshold and not best.against and not rivals(ranked, margin=margin)


def maker_alike(read: str, name: str, code: str = "") -> float:
    """How alike a maker as read is to one of the catalogue: 1 the same, 0 nothing shared."""
    mine = tokens(read)
    if not mine:
        return 0.0
    found = 0.0
    for one in (name, code):
        theirs = tokens(one)
        if not theirs:
            continue
        if mine == theirs:
            return 1.0
        if compact_key(read) == compact_key(one) or _holds(mine, theirs):
            found = max(found, MISREAD)
        elif mine[0] == theirs[0] and len(mine[0]) > 3:
            found = max(found, 0.9)
        found = max(found, similarity(" ".join(mine), " ".join(theirs)) * 0.9)
    return found


def _compare_type(text: str, model: PlateModel) -> _Type:
    read = tokens(text)
    if not read:
        return _Type()
    if read == tokens(model.type_text):
        return _Type(1.0, 1.0, exact=True)
    asked = parse_size(model.designation)
    if asked is None:
        return _compare_loose(text, read, model)
    names = (model.series, asked.before, f"{model.series} {asked.before}") if asked.before else (model.series,)
    seen = parse_size(text)
    if seen is not None and _same_numbers(seen.size, asked.size):
        return _compare_sized(seen, asked.size, names, 1.0, ())
    misread = find_misread_size(text, asked.size)
    if misread is not None:
        written, before, after = misread
        sized = SizedText(Size(asked.size.numbers, asked.size.form, tokens(after)), before, after)
        return _compare_sized(sized, asked.size, names, MISREAD, (f"{written} was read as {asked.size}",))
    if seen is not None:
        series, notes = _series_alike(seen.before or seen.after, *names)
        return _Type(series, 0.0, against=("size",), notes=notes)
    series, notes = _series_alike(text, *names)
    return _Type(series, 0.0, notes=notes)


def _same_numbers(seen: Size, asked: Size) -> bool:
    return (seen.form == asked.form and seen.numbers == asked.numbers) or seen.same_figures(asked)


def _compare_sized(seen: SizedText, asked: Size, names: tuple[str, ...], size: float, notes: tuple[str, ...]) -> _Type:
    """Numbers are the same; what follows them may still tell two models apart."""
    written = seen.before or seen.after
    series, more = _series_alike(written, *names)
    against = _series_against(written, series)
    follows = seen.size.suffix if seen.before else ()
    if asked.suffix and follows and follows[: len(asked.suffix)] != asked.suffix:
        size, against = 0.0, (*against, "size")
    elif bool(asked.suffix) != bool(follows):
        size = min(size, MORE_SAID)
    return _Type(series, size, against=against, notes=notes + more)


def _compare_loose(text: str, read: tuple[str, ...], model: PlateModel) -> _Type:
    """A designation that is no size of two or three numbers: it must stand in the text as it is."""
    asked = tokens(model.designation)
    place = next((at for at in range(len(read)) if read[at : at + len(asked)] == asked), -1) if asked else -1
    if place >= 0:
        before = " ".join(read[:place])
        series, notes = _series_alike(before, model.series)
        follows = bool(read[place + len(asked) :])
        return _Type(series, MORE_SAID if follows else 1.0, against=_series_against(before, series), notes=notes)
    series, notes = _series_alike(text, model.series)
    known = tokens(model.series)
    theirs = [one for one in asked if one.isdecimal()]
    mine = [one for one in read if one.isdecimal() and one not in known]
    if theirs and mine and mine[: len(theirs)] != theirs:
        return _Type(series, 0.0, against=("size",), notes=notes)
    return _Type(series, ALIKE * similarity(" ".join(read), " ".join(asked)), notes=notes)


def _series_alike(text: str, *names: str) -> tuple[float, tuple[str, ...]]:
    """(part, notes) for the name that the text is most like."""
    return max((_one_series_alike(text, one) for one in names), key=lambda one: one[0])


def _one_series_alike(text: str, series: str) -> tuple[float, tuple[str, ...]]:
    """1 for the same tokens, a little less with others around them or by the weak key."""
    mine, asked = tokens(text), tokens(series)
    if not mine or not asked:
        return 0.0, ()
    if mine == asked:
        return 1.0, ()
    if compact_key(text) == compact_key(series):
        return MISREAD, (f"{text.strip()} was read as {series}",)
    if mine[-len(asked) :] == asked or mine[: len(asked)] == asked:
        return MISREAD, ()
    alike = similarity(" ".join(mine), " ".join(asked))
    digits = [[one for one in some if one.isdecimal()] for some in (mine, asked)]
    if digits[0] != digits[1]:
        return min(alike, ANOTHER_NUMBER), ()
    return ALIKE * alike, ()


def _series_against(written: str, series: float) -> tuple[str, ...]:
    return ("series",) if tokens(written) and series <= ANOTHER_NUMBER else ()


def _figures_alike(reading: Reading, model: PlateModel) -> float | None:
    """Speed and power on the plate against the rated ones: full within 5 and 10 per cent, nothing beyond 25 and 60.

    The plate's figures are of a duty, so they say little and weigh little (common practice, no source).
    """
    found = []
    for name, rated, full, none in (
        ("speed_rpm", model.rated_speed_rpm, 0.05, 0.25),
        ("power_kw", model.rated_power_kw, 0.10, 0.60),
    ):
        value = reading.figures.get(name)
        if value is not None and rated > 0:
            apart = abs(float(value) - float(rated)) / float(rated)
            found.append(max(0.0, min(1.0, (none - apart) / (none - full))))
    return sum(found) / len(found) if found else None


def _holds(longer: tuple[str, ...], shorter: tuple[str, ...]) -> bool:
    return any(longer[at : at + len(shorter)] == shorter for at in range(len(longer) - len(shorter) + 1))
