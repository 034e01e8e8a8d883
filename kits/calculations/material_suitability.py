"""Whether a material bears a fluid and its temperature, and which lubricant it bears when it is fitted.

Judged from tables that carry their sources; nothing about a material stands in this code.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

Result = Literal["suitable", "limited", "unsuitable", "not-known"]


@dataclass(frozen=True)
class RatingRow:
    """Rating A, B, C or X of a material in a fluid family up to a temperature."""

    material: str
    fluid_family: str
    up_to_c: Decimal
    rating: str
    source: str = ""


@dataclass(frozen=True)
class LimitRow:
    """Temperature limits of a material in degrees Celsius; None where the table is silent."""

    material: str
    air_min_c: Decimal | None
    air_max_c: Decimal | None
    hot_water_max_c: Decimal | None
    source: str = ""


@dataclass(frozen=True)
class LubricantRow:
    """Whether a lubricant may touch a material: ok, check, avoid or forbidden."""

    material: str
    lubricant: str
    name: str
    verdict: str
    note: str = ""
    source: str = ""


@dataclass(frozen=True)
class MaterialVerdict:
    """``rating`` is empty where the tables know none."""

    material: str
    rating: str
    result: Result
    sentences: tuple[str, ...]
    sources: tuple[str, ...]


@dataclass
class SuitabilityTables:
    """The tables, indexed. ``water_families`` are those for which a compound's hot-water limit counts."""

    ratings: Iterable[RatingRow]
    limits: Iterable[LimitRow]
    water_families: frozenset[str]
    lubricants: Iterable[LubricantRow] = ()
    _ratings: dict[tuple[str, str], list[RatingRow]] = field(default_factory=dict, init=False)
    _limits: dict[str, LimitRow] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        for one in sorted(self.ratings, key=lambda row: row.up_to_c):
            self._ratings.setdefault((one.material, one.fluid_family), []).append(one)
        self._limits = {one.material: one for one in self.limits}

    def judge(
        self, material: str, fluid_family: str, temperature_min_c: Decimal, temperature_max_c: Decimal
    ) -> MaterialVerdict:
        """Rating A is suitable, B limited, C and X unsuitable; beyond the compound's temperature limits it is
        unsuitable whatever the rating. Between two rows of the table the hotter one applies."""
        sentences: list[str] = []
        sources: list[str] = []
        rows = self._ratings.get((material, fluid_family), [])
        limit = self._limits.get(material)
        if not rows or limit is None:
            return MaterialVerdict(
                material, "", "not-known", (f"The tables do not know {material} in {_words(fluid_family)}.",), ()
            )
        row = next((one for one in rows if temperature_max_c <= one.up_to_c), None)
        if row is None:
            sentences.append(
                f"{material} is not rated in {_words(fluid_family)} above {_c(rows[-1].up_to_c)}; "
                f"the pump reaches {_c(temperature_max_c)}."
            )
            return MaterialVerdict(material, "", "unsuitable", tuple(sentences), (rows[-1].source,))
        sources.append(row.source)
        result: Result = {"A": "suitable", "B": "limited"}.get(row.rating, "unsuitable")  # type: ignore[assignment]
        words = {"suitable": "suits", "limited": "bears within limits", "unsuitable": "must not be used in"}[result]
        sentences.append(f"{material} {words} {_words(fluid_family)} up to {_c(row.up_to_c)} (rating {row.rating}).")
        highest = limit.hot_water_max_c if fluid_family in self.water_families else limit.air_max_c
        kind = "hot-water limit" if fluid_family in self.water_families else "limit"
        if highest is not None and temperature_max_c > highest:
            result = "unsuitable"
            sentences.append(f"The {kind} of {material} is {_c(highest)}; the pump reaches {_c(temperature_max_c)}.")
            sources.append(limit.source)
        if limit.air_min_c is not None and temperature_min_c < limit.air_min_c:
            result = "unsuitable"
            sentences.append(
                f"{material} is used down to {_c(limit.air_min_c)}; the pump goes down to {_c(temperature_min_c)}."
            )
            sources.append(limit.source)
        return MaterialVerdict(material, row.rating, result, tuple(sentences), tuple(sources))

    def seen(self, material: str) -> str:
        """All that the tables say of a material, as a text: the same as long as no verdict on it can differ."""
        rows = [one for (name, _), those in sorted(self._ratings.items()) if name == material for one in those]
        return repr((rows, self._limits.get(material)))

    def cut_points(self) -> list[Decimal]:
        """Temperatures at which some verdict changes: a pump on one still belongs to what lies below it."""
        found = {row.up_to_c for rows in self._ratings.values() for row in rows}
        for one in self._limits.values():
            found.update(value for value in (one.air_min_c, one.air_max_c, one.hot_water_max_c) if value is not None)
        return sorted(found)


_ORDER = {"forbidden": 0, "avoid": 1, "check": 2, "ok": 3}


def lubricant_advice(materials: Iterable[str], rows: Iterable[LubricantRow], fallback: str) -> list[LubricantRow]:
    """One verdict a lubricant over all the materials it would touch: the most careful one counts.

    A material that the table does not know allows only ``fallback`` (the lubricant's code). The answer puts what is
    usable first, then what is forbidden.
    """
    wanted = sorted(set(materials))
    table: dict[tuple[str, str], LubricantRow] = {}
    names: dict[str, str] = {}
    for row in rows:
        table[(row.material, row.lubricant)] = row
        names[row.lubricant] = row.name
    found = []
    for lubricant, name in sorted(names.items()):
        worst: LubricantRow | None = None
        for material in wanted or [""]:
            row_or_none = table.get((material, lubricant))
            if row_or_none is None:
                allowed = lubricant == fallback
                row_or_none = LubricantRow(
                    material or "unknown elastomer",
                    lubricant,
                    name,
                    "ok" if allowed else "avoid",
                    "" if allowed else "The elastomer is not in the table; use only what harms none.",
                    "common practice, no source",
                )
            if worst is None or _ORDER[row_or_none.verdict] < _ORDER[worst.verdict]:
                worst = row_or_none
        if worst is not None:
            found.append(worst)
    return sorted(found, key=lambda one: (-_ORDER[one.verdict], one.lubricant))


def _c(value: Decimal) -> str:
    return f"{format(value.normalize(), 'f')} °C"


def _words(family: str) -> str:
    return family.replace("-", " ")
