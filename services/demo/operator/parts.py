"""About 220 parts: one for each different thing that the models ask for, and what the stores hold beside them."""

import random
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal

from assets.calculations.part_specifications import elastomers_of, parse_specification
from services.demo.operator.pump_models import MODELS
from services.demo.operator.wear_positions import Position, positions

# What is bought by its standard and is the same whoever made the pump: category, the letters of its number.
BY_STANDARD = {
    "o-ring": "OR",
    "rolling-bearing": "RB",
    "mechanical-seal": "MS",
    "lip-seal": "LS",
    "circlip": "CL",
    "key": "KY",
    "packing": "PK",
    "fastener": "SC",
}
MAKER_LETTERS = {"skerrholm": "SKE", "dunvard": "DUN", "tarnfell": "TAR"}
WORDS = {
    "shaft-seal": "Mechanical seal", "packing": "Gland packing ring", "lantern-ring": "Lantern ring",
    "shaft-sleeve": "Shaft sleeve", "sleeve-o-ring": "O-ring", "bearing-de": "Deep-groove ball bearing",
    "bearing-nde": "Deep-groove ball bearing", "lip-seal-de": "Lip seal", "lip-seal-nde": "Lip seal",
    "casing-o-ring": "O-ring", "cover-gasket": "Cover gasket", "gland-gasket": "Gland gasket",
    "wear-ring-casing": "Casing wear ring", "wear-ring-impeller": "Impeller wear ring", "impeller-o-ring": "O-ring",
    "impeller-nut": "Impeller nut", "impeller-key": "Parallel key", "lock-washer": "Lock washer",
    "deflector": "Deflector", "circlip": "Circlip", "coupling-spider": "Coupling spider",
    "drain-plug-washer": "Sealing washer",
}  # fmt: skip
# Price of a small one and of a large one, EUR.
PRICES = {
    "o-ring": ("0.90", "9.00"), "rolling-bearing": ("14", "78"), "mechanical-seal": ("68", "310"),
    "flat-gasket": ("1.20", "12"), "lip-seal": ("3", "14"), "wear-ring": ("24", "140"), "sleeve": ("38", "160"),
    "packing": ("4", "11"), "circlip": ("0.60", "4"), "key": ("1", "5"), "fastener": ("0.35", "3"),
    "other": ("3", "45"), "Impeller": ("180", "960"), "Shaft": ("140", "620"), "Casing": ("420", "2400"),
}  # fmt: skip
SCREWS = ("M8x25 A2-70", "M8x30 A2-70", "M10x30 8.8", "M10x35 A2-70", "M12x40 8.8", "M12x50 8.8", "M16x50 8.8",
          "M16x60 8.8", "M20x70 8.8")  # fmt: skip
# O-ring sizes kept loose for flanges, vents and gauges.
LOOSE_RINGS = ("6.07x1.78", "9.25x1.78", "18.64x3.53", "25.07x2.62", "50.39x3.53", "53.34x5.33", "85.09x5.33")
# The wear ring and three others went by an earlier number: role, model, how long ago (days) it was replaced, both ways.
EARLIER = (
    ("wear-ring-casing", "L100", 420, True),
    ("deflector", "P65", 600, False),
    ("shaft-sleeve", "P80", 300, True),
    ("lantern-ring", "G150", 900, False),
    ("wear-ring-casing", "C50", 150, False),
)


@dataclass(frozen=True)
class PartRow:
    """A part as the catalogue has it; ``ages_years`` is its storage life after ISO 2230, 0 where it does not age."""

    number: str
    name: str
    maker: str
    category: str
    specification: str
    cost: Decimal
    ages_years: int


@dataclass(frozen=True)
class Replaced:
    """An earlier number and the one that replaced it, so many days ago."""

    old: str
    new: str
    days_ago: int
    both_ways: bool


@dataclass(frozen=True)
class Catalogue:
    """All parts by number, and which part each position asks for."""

    parts: dict[str, PartRow]
    asked: dict[Position, PartRow]
    replaced: tuple[Replaced, ...]


YEARS = {"NBR": 7, "EPDM": 10, "FKM": 10}


class _Numbers:
    def __init__(self) -> None:
        self.next: dict[str, int] = {}

    def give(self, letters: str) -> str:
        self.next[letters] = self.next.get(letters, 1000) + 1
        return f"{letters}-{self.next[letters]}"


def catalogue() -> Catalogue:
    """The parts, numbered in the order of the models, then the extras."""
    numbers, chance = _Numbers(), random.Random(220)
    parts: dict[str, PartRow] = {}
    by_thing: dict[tuple[str, str, str], PartRow] = {}
    asked: dict[Position, PartRow] = {}

    def add(category: str, text: str, name: str, maker: str) -> PartRow:
        read = parse_specification(category, text)
        thing = category, read.designation(), "" if category in BY_STANDARD else maker
        if thing not in by_thing:
            letters = BY_STANDARD.get(category) or MAKER_LETTERS[maker]
            years = min((YEARS[one] for one in elastomers_of(read)), default=0)
            shown = read.designation() if category != "other" else text
            row = PartRow(
                number=numbers.give(letters),
                name=f"{name} {shown}" if category != "other" else text[0].upper() + text[1:],
                maker=thing[2],
                category=category,
                specification=shown,
                cost=_price(name if name in PRICES else category, chance),
                ages_years=years,
            )
            by_thing[thing] = parts[row.number] = row
        return by_thing[thing]

    for one in positions():
        asked[one] = add(one.category, one.specification, WORDS[one.role], one.model.maker)
    for model in MODELS:
        add("other", f"impeller {model.series} {model.designation}", "Impeller", model.maker)
        add("other", f"shaft {model.series} {model.designation}", "Shaft", model.maker)
        add("other", f"casing half and cover {model.series} {model.designation}", "Casing", model.maker)
    for text in SCREWS:
        add("fastener", text, "Screw", "")
    for size in LOOSE_RINGS:
        for elastomer in ("NBR", "EPDM"):
            add("o-ring", f"{size} {elastomer} 70", "O-ring", "")
    replaced = tuple(_earlier(parts, asked))
    return Catalogue(parts, asked, replaced)


def _earlier(parts: dict[str, PartRow], asked: dict[Position, PartRow]) -> list[Replaced]:
    found = []
    for role, short, days_ago, both_ways in EARLIER:
        new = next(part for one, part in asked.items() if one.role == role and one.model.short == short)
        letters, digits = new.number.split("-")
        old = f"{letters}-{int(digits) - 600:04d}"
        parts[old] = replace(new, number=old, name=f"{new.name} (earlier number)")
        found.append(Replaced(old, new.number, days_ago, both_ways))
    return found


def _price(category: str, chance: random.Random) -> Decimal:
    low, high = (Decimal(one) for one in PRICES[category])
    share = Decimal(chance.randint(0, 100)) / 100
    return (low + (high - low) * share).quantize(Decimal("0.01"), ROUND_HALF_UP)
