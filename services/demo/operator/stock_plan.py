"""What is kept where, how much of it was needed in each of the last 36 months, and the lots worth a look."""

import random
from collections.abc import Sequence
from dataclasses import dataclass

from services.demo.operator.kits import (
    BEARING,
    EARLIER_NUMBER,
    FITTING,
    FULL,
    NITRILE,
    PACKING,
    SEAL,
    WITHOUT_BEARING,
    KitRow,
)
from services.demo.operator.parts import Catalogue, PartRow
from services.demo.operator.places import CENTRAL
from services.demo.operator.pumps import PumpRow

MONTHS = 36
STORY_SITE = "heat-plant"
# Months ago in which the heat plant needed one of the fitting kit: a half a month on average.
STORY_NEEDS = (35, 34, 32, 30, 28, 26, 25, 22, 21, 19, 15, 14, 12, 11, 8, 6, 4, 3)
STORY_OPENING, STORY_CENTRAL = 2, 3
# Kits: chance of a need in a month, and by how much each pump raises it.
NEEDS = {FULL: (0.02, 0.025), SEAL: (0.02, 0.03), BEARING: (0.01, 0.02), PACKING: (0.05, 0.05)}
# Parts kept loose at the central store by category: chance of a need in a month, the most needed at once.
LOOSE = {
    "o-ring": (0.10, 6), "rolling-bearing": (0.12, 2), "mechanical-seal": (0.07, 1), "lip-seal": (0.10, 4),
    "packing": (0.20, 10), "circlip": (0.06, 4), "fastener": (0.15, 16), "wear-ring": (0.03, 2),
    "flat-gasket": (0.08, 4), "sleeve": (0.03, 1),
}  # fmt: skip
CENTRAL_BINS = {"o-ring": "C-01", "mechanical-seal": "C-01", "lip-seal": "C-01", "rolling-bearing": "B-01"}
# Loose parts kept at other sites: site, role, model of the pump they are for.
AT_SITES = (
    ("tarn-waterworks", "packing", "G150"), ("tarn-waterworks", "packing", "G200"),
    ("tarn-waterworks", "lip-seal-de", "G150"), ("holm-waterworks", "packing", "G150"),
    ("holm-waterworks", "shaft-seal", "C40"), ("heat-plant", "coupling-spider", "K50"),
    ("heat-plant", "coupling-spider", "K80"), ("heat-plant", "bearing-de", "L100"),
    ("heat-plant", "casing-o-ring", "L125"), ("dairy", "shaft-seal", "C50"), ("dairy", "shaft-seal", "C32"),
    ("fish-hall", "shaft-seal", "C65"), ("fish-hall", "lip-seal-de", "P65"),
)  # fmt: skip


@dataclass(frozen=True)
class Kept:
    """An item kept at a site: what lay there at first, and the need of each month, the oldest first."""

    number: str
    revision: str
    ages_years: int
    site: str
    bin: str
    opening: int
    needs: tuple[int, ...]
    packed_in: int = 1


@dataclass(frozen=True)
class ShelfLot:
    """A lot that no issue touched: site, bin, item, quantity, days until it is out of date (negative: past)."""

    site: str
    bin: str
    number: str
    quantity: int
    expires_in: int


UNTOUCHED = (
    ShelfLot(STORY_SITE, "W-02", FITTING, 1, -75),
    ShelfLot("fish-hall", "", NITRILE, 1, 40),
    ShelfLot("holm-waterworks", "", "FK-P65-E", 1, 24),
    ShelfLot("tarn-waterworks", "", "FK-G150-N", 1, 78),
    ShelfLot("dairy", "", "FK-C32-N", 1, -20),
    ShelfLot(CENTRAL, "A-02", "FK-T32-N", 2, 12),
)


def kept_items(kits: Sequence[KitRow], parts: Catalogue, pumps: Sequence[PumpRow]) -> list[Kept]:
    """All that is kept anywhere, item by item, the sites of an item together."""
    chance = random.Random(36)
    found: list[Kept] = []
    for kit in kits:
        found.extend(_kit_at_sites(kit, pumps, chance))
    at_sites = _loose_at_sites(parts)
    for part in parts.parts.values():
        found.extend(_part_at_sites(part, at_sites.get(part.number, []), chance))
    return found


def _kit_at_sites(kit: KitRow, pumps: Sequence[PumpRow], chance: random.Random) -> list[Kept]:
    def at(site: str, opening: int, needs: tuple[int, ...], place: str = "") -> Kept:
        return Kept(kit.number, kit.revision, kit.ages_years, site, place, opening, needs, 2)

    none = (0,) * MONTHS
    if kit.number == FITTING:
        story = tuple(int(MONTHS - place in STORY_NEEDS) for place in range(MONTHS))
        return [at(STORY_SITE, STORY_OPENING, story), at(CENTRAL, STORY_CENTRAL, none)]
    if kit.number == EARLIER_NUMBER:
        return [at(CENTRAL, 1, none, "A-02")]
    if kit.number == WITHOUT_BEARING:
        return [at(STORY_SITE, 1, none)]
    base, more = NEEDS[kit.scope]
    found = []
    for site in sorted({one.site for one in pumps[:-1]} - {CENTRAL}):
        count = sum(1 for one in pumps if (one.site, one.model, one.elastomer) == (site, kit.model, kit.elastomer))
        if count:
            found.append(at(site, chance.randint(1, 3), _needs(chance, base + more * count, 1)))
    return [*found, at(CENTRAL, chance.randint(1, 3), _needs(chance, base, 1))]


def _loose_at_sites(parts: Catalogue) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for site, role, short in AT_SITES:
        number = next(part.number for one, part in parts.asked.items() if one.role == role and one.model.short == short)
        found.setdefault(number, []).append(site)
    return found


def _part_at_sites(part: PartRow, sites: Sequence[str], chance: random.Random) -> list[Kept]:
    rate, most = LOOSE.get(part.category, (0.05, 2))
    packed = 10 if most >= 10 else 5 if most >= 4 else 2

    def at(site: str, place: str) -> Kept:
        needs = _needs(chance, rate, most)
        return Kept(part.number, "", part.ages_years, site, place, chance.randint(1, 2 * most), needs, packed)

    found = [at(site, "") for site in sites]
    if part.category in LOOSE or sites:
        found.append(at(CENTRAL, CENTRAL_BINS.get(part.category, "")))
    return found


def _needs(chance: random.Random, rate: float, most: int) -> tuple[int, ...]:
    """Need by month: none in most months, now and then one or a few."""
    return tuple(chance.randint(1, most) if chance.random() < rate else 0 for _ in range(MONTHS))
