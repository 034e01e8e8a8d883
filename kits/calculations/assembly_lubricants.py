"""Which lubricant may touch the materials that are fitted together, judged from tables that carry their sources."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

Occasion = Literal["always", "unknown-elastomer", "usable"]


@dataclass(frozen=True)
class LubricantRow:
    """Whether a lubricant may touch a material after one source: ok, check, avoid or forbidden."""

    material: str
    lubricant: str
    name: str
    verdict: str
    note: str = ""
    source: str = ""
    chosen_because: str = ""
    differing: tuple[str, ...] = ()


@dataclass(frozen=True)
class CautionRow:
    """A caution of assembly: always, where an elastomer is unknown, or where the lubricant named is usable."""

    code: str
    sentence: str
    occasion: Occasion
    lubricant: str = ""
    source: str = ""


_ORDER = {"forbidden": 0, "avoid": 1, "check": 2, "ok": 3}


def lubricant_advice(
    materials: Iterable[str], rows: Iterable[LubricantRow], for_unknown: Collection[str]
) -> list[LubricantRow]:
    """One verdict a lubricant over all the materials it would touch: the most careful one counts.

    So it does where sources differ on one material, unless the data owner chose a row and said why; ``differing`` then
    tells what each source says. A material that the table does not know bears only the lubricants of ``for_unknown``
    (codes). The answer puts what is usable first, then what is forbidden.
    """
    wanted = sorted(set(materials))
    table: dict[tuple[str, str], list[LubricantRow]] = {}
    names: dict[str, str] = {}
    for row in rows:
        table.setdefault((row.material, row.lubricant), []).append(row)
        names[row.lubricant] = row.name
    found = []
    for lubricant, name in sorted(names.items()):
        judged = [
            _counted(table[material, lubricant])
            if (material, lubricant) in table
            else _unknown(material, lubricant, name, lubricant in for_unknown)
            for material in wanted or [""]
        ]
        found.append(min(judged, key=_care))
    return sorted(found, key=lambda one: (-_ORDER[one.verdict], one.lubricant))


def unknown_materials(materials: Iterable[str], rows: Iterable[LubricantRow]) -> list[str]:
    """Which materials the table does not know at all, sorted."""
    return sorted(set(materials) - {row.material for row in rows})


def cautions_for(
    cautions: Iterable[CautionRow], advice: Sequence[LubricantRow], *, any_unknown: bool
) -> list[CautionRow]:
    """The cautions that go with an advice, in the order of their codes."""
    usable = {one.lubricant for one in advice if one.verdict in {"ok", "check"}}
    return sorted(
        (
            one
            for one in cautions
            if one.occasion == "always"
            or (one.occasion == "unknown-elastomer" and any_unknown)
            or (one.occasion == "usable" and one.lubricant in usable)
        ),
        key=lambda one: one.code,
    )


def _care(one: LubricantRow) -> int:
    return _ORDER[one.verdict]


def _counted(rows: Sequence[LubricantRow]) -> LubricantRow:
    counted = min([one for one in rows if one.chosen_because] or rows, key=_care)
    if len({one.verdict for one in rows}) == 1:
        return counted
    told = [f"{one.verdict} ({one.source})" for one in rows]
    why = f"chosen because: {counted.chosen_because}" if counted.chosen_because else "the most careful verdict"
    return replace(counted, differing=(*told, f"What counts is {counted.verdict}, {why.rstrip('.')}."))


def _unknown(material: str, lubricant: str, name: str, allowed: bool) -> LubricantRow:
    return LubricantRow(
        material or "unknown elastomer",
        lubricant,
        name,
        "ok" if allowed else "avoid",
        "" if allowed else "The table does not judge this pair; use only what harms none.",
        "common practice, no source",
    )
