"""Whether a material bears a fluid and its temperature.

Judged from tables that carry their sources; nothing about a material stands in this code. Where sources differ the most
careful figure counts (the narrower limit, the worse rating), unless the data owner chose one and said why; the verdict
says that they differ and which one counted.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from assets.calculations.written_numbers import plain

Result = Literal["suitable", "limited", "unsuitable", "not-known"]
LimitKind = Literal["air_min_c", "air_max_c", "hot_water_max_c"]


@dataclass(frozen=True)
class RatingRow:
    """Rating A, B, C or X of a material in a fluid family up to a temperature, after one source.

    For seal faces ``material`` holds the letters of EN 12756. ``chosen_because`` is the data owner's reason to let this
    row count before other sources; empty: it is not chosen.
    """

    material: str
    fluid_family: str
    up_to_c: Decimal
    rating: str
    source: str = ""
    note: str = ""
    chosen_because: str = ""


@dataclass(frozen=True)
class LimitRow:
    """Temperature limits of a material in degrees Celsius after one source; None where that source is silent."""

    material: str
    air_min_c: Decimal | None
    air_max_c: Decimal | None
    hot_water_max_c: Decimal | None
    source: str = ""
    chosen_because: str = ""


@dataclass(frozen=True)
class DifferingValue:
    """What one source gives, and whether it is the one that counts."""

    value: str
    source: str
    counts: bool


@dataclass(frozen=True)
class Differing:
    """One figure for which sources differ; ``because`` is empty where the most careful value counts."""

    figure: str
    values: tuple[DifferingValue, ...]
    because: str

    def sentence(self) -> str:
        """The difference as a fitter reads it."""
        told = "; ".join(f"{one.value} ({one.source})" for one in self.values)
        counted = next(one.value for one in self.values if one.counts)
        why = f"chosen because: {self.because}" if self.because else "the most careful value"
        return f"Sources differ on {self.figure}: {told}. What counts is {counted}, {why.rstrip('.')}."


@dataclass(frozen=True)
class MaterialVerdict:
    """``rating`` is empty where the tables know none. ``differing`` holds every figure read on which sources differ."""

    material: str
    rating: str
    result: Result
    sentences: tuple[str, ...]
    sources: tuple[str, ...]
    differing: tuple[Differing, ...] = ()


@dataclass(frozen=True)
class _Reading:
    """What the tables say between two temperatures; no row where no source rates anything so hot."""

    row: RatingRow | None
    differing: Differing | None = None
    silent: tuple[RatingRow, ...] = ()


@dataclass(frozen=True)
class _Ratings:
    steps: tuple[Decimal, ...]
    readings: tuple[_Reading, ...]
    hottest: RatingRow

    def at(self, celsius: Decimal) -> _Reading:
        return self.readings[bisect_left(self.steps, celsius)]


@dataclass(frozen=True)
class _Limit:
    """One limit: the value that counts with its source, the narrowest that any source gives."""

    value: Decimal
    source: str
    narrowest: Decimal
    differing: Differing | None


_FIGURES: dict[LimitKind, str] = {
    "air_min_c": "the lowest temperature of {}",
    "air_max_c": "the limit of {}",
    "hot_water_max_c": "the hot-water limit of {}",
}
_BADNESS = "ABCX"
_RESULTS: dict[str, Result] = {"A": "suitable", "B": "limited", "C": "unsuitable", "X": "unsuitable"}
_WORDS = {"suitable": "suits", "limited": "bears within limits", "unsuitable": "must not be used in"}


@dataclass
class SuitabilityTables:
    """The tables, indexed. ``water_families`` are those for which a compound's hot-water limit counts too.

    ``faces`` rates seal faces by their letters after EN 12756, ``face_names`` says what the letters stand for.
    """

    ratings: Iterable[RatingRow]
    limits: Iterable[LimitRow]
    water_families: frozenset[str]
    faces: Iterable[RatingRow] = ()
    face_names: dict[str, str] = field(default_factory=dict)
    _ratings: dict[tuple[str, str], _Ratings] = field(default_factory=dict, init=False)
    _faces: dict[tuple[str, str], _Ratings] = field(default_factory=dict, init=False)
    _limits: dict[str, dict[LimitKind, _Limit]] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        self._ratings = _indexed(self.ratings)
        self._faces = _indexed(self.faces)
        by_material: dict[str, list[LimitRow]] = {}
        for one in self.limits:
            by_material.setdefault(one.material, []).append(one)
        for material, rows in by_material.items():
            found = {kind: _limit(rows, kind) for kind in _FIGURES}
            self._limits[material] = {kind: one for kind, one in found.items() if one is not None}

    def judge(
        self, material: str, fluid_family: str, temperature_min_c: Decimal, temperature_max_c: Decimal
    ) -> MaterialVerdict:
        """The verdict on an elastomer under its ISO 1629 code.

        Beyond a temperature limit of the compound it is unsuitable whatever the rating. Else rating A is suitable, B
        limited, C and X unsuitable; each source is read on its own, and between two of its rows the hotter one applies.
        Hotter than all rows is unsuitable; without rating or without limits nothing good is known.
        """
        told = _Told(material)
        limits = self._limits.get(material, {})
        breached = self._beyond_limits(told, limits, fluid_family, temperature_min_c, temperature_max_c)
        rated = _rate(told, self._ratings.get((material, fluid_family)), material, fluid_family, temperature_max_c)
        if breached or rated == "unsuitable":
            return told.verdict("unsuitable")
        if rated != "not-known" and not limits:
            told.say(f"The tables give no temperature limits for {material}.")
            return told.verdict("not-known")
        return told.verdict(rated)

    def judge_face(
        self, letters: str, fluid_family: str, temperature_min_c: Decimal, temperature_max_c: Decimal
    ) -> MaterialVerdict:
        """The verdict on a seal face under its letters after EN 12756, such as ``Q1``.

        Letters with a digit that the table does not hold are judged as the bare letter, and the verdict says so. What
        the table does not know is not known: a face is never taken for suitable.
        """
        told = _Told(letters)
        rows = self._faces.get((letters, fluid_family))
        known_as = letters
        if rows is None and letters[:1] != letters and (letters[:1], fluid_family) in self._faces:
            known_as = letters[:1]
            rows = self._faces[known_as, fluid_family]
            told.say(f"The table does not rate seal face {letters} here; it is judged as {known_as}.")
        name = self.face_names.get(known_as)
        called = f"Seal face {known_as} ({name})" if name else f"Seal face {known_as}"
        return told.verdict(_rate(told, rows, called, fluid_family, temperature_max_c))

    def seen(self, material: str) -> str:
        """All that the tables say of a material, as a text: the same as long as no verdict on it can differ."""
        rated = [(family, self._ratings[name, family]) for name, family in sorted(self._ratings) if name == material]
        return repr((rated, self._limits.get(material)))

    def seen_face(self, letters: str) -> str:
        """The same for a seal face, under its own letters and the bare letter it falls back to."""
        wanted = {letters, letters[:1]}
        return repr([(key, self._faces[key]) for key in sorted(self._faces) if key[0] in wanted])

    def cut_points(self) -> list[Decimal]:
        """Temperatures at which some verdict changes: a pump on one still belongs to what lies below it."""
        found = {step for one in (*self._ratings.values(), *self._faces.values()) for step in one.steps}
        for limits in self._limits.values():
            for one in limits.values():
                found |= {one.value, one.narrowest}
        return sorted(found)

    def _beyond_limits(
        self,
        told: "_Told",
        limits: dict[LimitKind, _Limit],
        fluid_family: str,
        lowest: Decimal,
        highest: Decimal,
    ) -> bool:
        """Whether a limit that counts is passed. A limit that only another source gives is passed in words too."""
        breached = False
        for kind, one in limits.items():
            if kind == "hot_water_max_c" and fluid_family not in self.water_families:
                continue
            told.differ(one.differing)
            reached = lowest if kind == "air_min_c" else highest
            if not _passes(kind, reached, one.narrowest):
                continue
            if _passes(kind, reached, one.value):
                breached = True
                told.say(_too_far(told.material, kind, one.value, reached), one.source)
            if one.differing is not None:
                told.say(one.differing.sentence())
        return breached


class _Told:
    """What a verdict says, gathered."""

    def __init__(self, material: str) -> None:
        self.material, self.rating = material, ""
        self._sentences: list[str] = []
        self._sources: dict[str, None] = {}
        self._differing: list[Differing] = []

    def say(self, sentence: str, source: str = "") -> None:
        self._sentences.append(sentence)
        if source:
            self._sources[source] = None

    def differ(self, one: Differing | None) -> None:
        if one is not None:
            self._differing.append(one)

    def verdict(self, result: Result) -> MaterialVerdict:
        return MaterialVerdict(
            self.material, self.rating, result, tuple(self._sentences), tuple(self._sources), tuple(self._differing)
        )


def _rate(told: _Told, table: _Ratings | None, called: str, fluid_family: str, highest: Decimal) -> Result:
    family = _words(fluid_family)
    if table is None:
        told.say(f"The tables do not know {called} in {family}.")
        return "not-known"
    reading = table.at(highest)
    row = reading.row
    if row is None:
        hottest = table.hottest
        told.say(
            f"{called} is not rated in {family} above {_c(hottest.up_to_c)}; the pump reaches {_c(highest)}.",
            hottest.source,
        )
        return "unsuitable"
    result = _RESULTS.get(row.rating, "unsuitable")
    told.rating = row.rating
    told.say(f"{called} {_WORDS[result]} {family} up to {_c(row.up_to_c)} (rating {row.rating}).", row.source)
    if row.note:
        told.say(row.note)
    if reading.differing is not None:
        told.differ(reading.differing)
        told.say(reading.differing.sentence())
    for one in reading.silent:
        told.say(f"Another source rates it only up to {_c(one.up_to_c)} ({one.source}).")
    return result


def _indexed(rows: Iterable[RatingRow]) -> dict[tuple[str, str], _Ratings]:
    found: dict[tuple[str, str], list[RatingRow]] = {}
    for one in rows:
        found.setdefault((one.material, one.fluid_family), []).append(one)
    return {key: _ratings(some) for key, some in found.items()}


def _ratings(rows: Sequence[RatingRow]) -> _Ratings:
    """The readings of one material in one family between the temperatures at which any source has a row."""
    by_source: dict[str, list[RatingRow]] = {}
    for row in sorted(rows, key=lambda one: (one.up_to_c, one.source)):
        by_source.setdefault(row.source, []).append(row)
    steps = tuple(sorted({row.up_to_c for row in rows}))
    readings = [_reading(step, by_source) for step in steps]
    hottest = max(rows, key=lambda one: (one.up_to_c, one.source))
    return _Ratings(steps, (*readings, _Reading(None)), hottest)


def _reading(step: Decimal, by_source: dict[str, list[RatingRow]]) -> _Reading:
    heard, silent = [], []
    for rows in by_source.values():
        row = next((one for one in rows if step <= one.up_to_c), None)
        if row is None:
            silent.append(rows[-1])
        else:
            heard.append(row)
    counted = max(
        [one for one in heard if one.chosen_because] or heard, key=lambda one: (_badness(one.rating), one.source)
    )
    differing = None
    if len({one.rating for one in heard}) > 1:
        values = tuple(
            DifferingValue(f"rating {one.rating} up to {_c(one.up_to_c)}", one.source, one is counted) for one in heard
        )
        figure = f"{counted.material} in {_words(counted.fluid_family)}"
        differing = Differing(figure, values, counted.chosen_because)
    return _Reading(counted, differing, tuple(silent))


def _badness(rating: str) -> int:
    return _BADNESS.find(rating) if rating in _BADNESS else len(_BADNESS)


def _limit(rows: Sequence[LimitRow], kind: LimitKind) -> _Limit | None:
    given = [(value, row) for row in rows if (value := getattr(row, kind)) is not None]
    if not given:
        return None
    narrow = max if kind == "air_min_c" else min
    narrowest = narrow(value for value, _ in given)
    chosen = [(value, row) for value, row in given if row.chosen_because]
    value, counted = narrow(chosen or given, key=lambda one: one[0])
    differing = None
    if len({one for one, _ in given}) > 1:
        values = tuple(DifferingValue(_c(one), row.source, row is counted) for one, row in given)
        differing = Differing(_FIGURES[kind].format(counted.material), values, counted.chosen_because)
    return _Limit(value, counted.source, narrowest, differing)


def _passes(kind: LimitKind, reached: Decimal, limit: Decimal) -> bool:
    return reached < limit if kind == "air_min_c" else reached > limit


def _too_far(material: str, kind: LimitKind, limit: Decimal, reached: Decimal) -> str:
    if kind == "air_min_c":
        return f"{material} is used down to {_c(limit)}; the pump goes down to {_c(reached)}."
    figure = _FIGURES[kind].format(material)
    return f"{figure[0].upper()}{figure[1:]} is {_c(limit)}; the pump reaches {_c(reached)}."


def _c(value: Decimal) -> str:
    return f"{plain(value)} °C"


def _words(family: str) -> str:
    return family.replace("-", " ")
