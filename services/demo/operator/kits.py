"""About thirty kits: what each is for, and its lines as they follow from the wear positions of its model."""

import csv
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import kits
from services.demo.operator.parts import Catalogue, PartRow
from services.demo.operator.pump_models import MODELS, STORY_MODEL, Model
from services.demo.operator.wear_positions import Position

LETTER = {"EPDM": "E", "NBR": "N", "FKM": "V"}
FULL, SEAL, BEARING, PACKING = "full-overhaul", "shaft-seal", "bearing", "packing"
# Models for which smaller kits are kept too.
SEAL_KITS = ("C40", "P65", "P80", "L100", "L125", "K50", "K80")
BEARING_KITS = ("P80",)
PACKING_KITS = ("G150", "G200")
# The kits of the long-coupled pump of which one fits, one is of nitrile, one lacks a bearing, one has an earlier
# number, one is only for the seal.
FITTING, NITRILE, WITHOUT_BEARING, EARLIER_NUMBER, SEAL_ONLY = (
    "FK-L100-E", "FK-L100-N", "FK-L100-X", "FK-L100-W", "FK-L100-SE",
)  # fmt: skip
FITTING_REVISION = "B"
VITAL = ("P80", "G150", "G200", "K100")
DESIRABLE = ("C32", "T32")


@dataclass(frozen=True)
class KitRow:
    """A kit with its lines: role, part, quantity."""

    number: str
    revision: str
    name: str
    scope: str
    criticality: str
    model: Model
    elastomer: str
    lines: tuple[tuple[str, PartRow, int], ...]

    @property
    def cost(self) -> Decimal:
        """What its parts cost, and a twelfth for packing it."""
        total = sum((part.cost * quantity for _, part, quantity in self.lines), Decimal(0))
        return (total * 13 / 12).quantize(Decimal("0.01"))

    @property
    def ages_years(self) -> int:
        """Storage life of its shortest-lived part; 0 where nothing ages."""
        return min((part.ages_years for _, part, _ in self.lines if part.ages_years), default=0)


def scope_roles() -> dict[str, frozenset[str]]:
    """Roles of each scope, from the trade's own table."""
    table = Path(kits.__file__).parent / "trade_tables" / "kit_scopes.csv"
    with table.open(encoding="utf-8", newline="") as file:
        return {row["code"]: frozenset(row["roles"].split("|")) for row in csv.DictReader(file)}


def kit_rows(parts: Catalogue) -> tuple[KitRow, ...]:
    """All kits, model by model."""
    scopes = scope_roles()
    found: list[KitRow] = []
    for model in MODELS:
        own = [one for one in parts.asked if one.model == model]

        def kit(
            number: str, name: str, scope: str, elastomer: str, *, model: Model = model, own: list[Position] = own
        ) -> KitRow:
            lines = tuple(
                (one.role, parts.asked[one], one.quantity)
                for one in own
                if one.role in scopes[scope] and one.elastomer in {"", elastomer}
            )
            return KitRow(number, "A", name, scope, _criticality(model), model, elastomer, lines)

        for elastomer in model.elastomers:
            title = f"Full overhaul kit {model.series} {model.designation}, {elastomer}"
            found.append(kit(f"FK-{model.short}-{LETTER[elastomer]}", title, FULL, elastomer))
        first = model.elastomers[0]
        if model.short in SEAL_KITS:
            title = f"Seal kit {model.series} {model.designation}, {first}"
            found.append(kit(f"FK-{model.short}-S{LETTER[first]}", title, SEAL, first))
        if model.short in BEARING_KITS:
            found.append(kit(f"FK-{model.short}-B", f"Bearing kit {model.series} {model.designation}", BEARING, first))
        if model.short in PACKING_KITS:
            found.append(kit(f"FK-{model.short}-P", f"Packing kit {model.series} {model.designation}", PACKING, first))
        if model.code == STORY_MODEL:
            found = [_revised(one) for one in found]
            found.extend(_odd_kits(next(one for one in found if one.number == FITTING), parts))
    return tuple(found)


def _criticality(model: Model) -> str:
    return "vital" if model.short in VITAL else "desirable" if model.short in DESIRABLE else "essential"


def _revised(one: KitRow) -> KitRow:
    if one.number != FITTING:
        return one
    return KitRow(
        one.number, FITTING_REVISION, one.name, one.scope, one.criticality, one.model, one.elastomer, one.lines
    )


def _odd_kits(full: KitRow, parts: Catalogue) -> list[KitRow]:
    """The set of the workshop without its drive-end bearing, and the earlier pack that still lists a replaced part."""
    words = f"{full.model.series} {full.model.designation}, {full.elastomer}"
    without = tuple(one for one in full.lines if one[0] != "bearing-de")
    earlier = {one.new: parts.parts[one.old] for one in parts.replaced}
    before = tuple((role, earlier.get(part.number, part), quantity) for role, part, quantity in full.lines)
    return [
        KitRow(WITHOUT_BEARING, "A", f"Workshop set without bearing {words}", FULL, "desirable", full.model,
               full.elastomer, without),
        KitRow(EARLIER_NUMBER, "A", f"Full overhaul kit, earlier pack {words}", FULL, "desirable", full.model,
               full.elastomer, before),
    ]  # fmt: skip


def coverage_rows(rows: tuple[KitRow, ...]) -> list[tuple[str, str, str, str, str]]:
    """kit, revision, model, serial range: what the makers declare. The workshop's own set has no maker's word."""
    return [(one.number, one.revision, one.model.code, "", "") for one in rows if one.number != WITHOUT_BEARING]
