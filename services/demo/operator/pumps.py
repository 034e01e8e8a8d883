"""About 120 pumps by site, with nameplates and hour readings."""

import random
from dataclasses import dataclass
from typing import Any

from services.demo.operator.days import Days, moment
from services.demo.operator.pump_models import MODEL_OF, Model
from services.demo.operator.wear_positions import PULL_OUT

FIRST_TAG = 101
# site, model, elastomer, fluid, coldest and hottest degC, how many. The heat plant comes first: its fifth and sixth
# Dunva L 100 are P-117 and P-118.
GROUPS = (
    ("heat-plant", "skerra-c-40-160", "EPDM", "potable-water", 4, 12, 2),
    ("heat-plant", "dunva-k-100-250", "EPDM", "heating-water", 50, 95, 4),
    ("heat-plant", "dunva-k-80-200", "EPDM", "heating-water", 40, 90, 6),
    ("heat-plant", "dunva-l-100-65-200", "EPDM", "heating-water", 60, 90, 6),
    ("heat-plant", "dunva-l-125-80-250", "EPDM", "heating-water", 60, 95, 6),
    ("heat-plant", "dunva-k-50-160", "EPDM", "heating-water", 35, 80, 8),
    ("tarn-waterworks", "tarna-g-150-315", "NBR", "raw-water", 2, 14, 5),
    ("tarn-waterworks", "tarna-g-200-400", "NBR", "potable-water", 3, 12, 4),
    ("tarn-waterworks", "skerra-p-80-50-250", "EPDM", "potable-water", 3, 12, 5),
    ("tarn-waterworks", "skerra-c-50-200", "EPDM", "potable-water", 3, 12, 6),
    ("tarn-waterworks", "skerra-c-32-160", "EPDM", "potable-water", 3, 12, 4),
    ("tarn-waterworks", "tarna-c-32-125", "NBR", "raw-water", 2, 14, 2),
    ("holm-waterworks", "tarna-g-150-315", "NBR", "raw-water", 2, 14, 4),
    ("holm-waterworks", "skerra-p-65-40-200", "EPDM", "potable-water", 3, 12, 5),
    ("holm-waterworks", "skerra-c-40-160", "EPDM", "potable-water", 3, 12, 6),
    ("holm-waterworks", "skerra-c-65-160", "EPDM", "potable-water", 3, 12, 4),
    ("holm-waterworks", "tarna-c-32-125", "EPDM", "potable-water", 3, 12, 3),
    ("dairy", "skerra-c-50-200", "FKM", "milk", 4, 75, 4),
    ("dairy", "skerra-c-32-160", "NBR", "milk", 4, 40, 4),
    ("dairy", "tarna-c-32-125", "EPDM", "potable-water", 4, 15, 3),
    ("dairy", "skerra-c-40-160", "EPDM", "wash-alkali", 10, 60, 4),
    ("dairy", "dunva-k-50-160", "EPDM", "brine", -5, 15, 4),
    ("dairy", "skerra-p-65-40-200", "EPDM", "brine", -8, 5, 3),
    ("fish-hall", "dunva-l-100-65-200", "NBR", "sea-water", 2, 15, 3),
    ("fish-hall", "skerra-c-40-160", "NBR", "sea-water", 2, 15, 3),
    ("fish-hall", "dunva-l-125-80-250", "FKM", "fish-oil", 40, 90, 3),
    ("fish-hall", "skerra-c-65-160", "EPDM", "sea-water", 2, 15, 3),
    ("fish-hall", "skerra-p-65-40-200", "EPDM", "brine", -8, 5, 2),
    ("central-store", "skerra-c-32-160", "EPDM", "potable-water", 3, 12, 1),
    ("central-store", "dunva-k-50-160", "EPDM", "heating-water", 35, 80, 1),
    ("central-store", "dunva-l-100-65-200", "EPDM", "heating-water", 60, 90, 1),
    ("central-store", "skerra-c-40-160", "EPDM", "potable-water", 3, 12, 1),
)
VITAL_GROUPS = {"dunva-k-100-250", "tarna-g-200-400", "skerra-p-80-50-250"}
VITAL_TAGS = {"P-117", "P-118"}
# Days ago of the hour readings.
READ_DAYS_AGO = (730, 548, 365, 183, 31, 6)
# A nameplate copied with a blank in it, figures with a decimal comma, a place no longer in use.
SPACED_SERIAL_TAG = "P-118"
COMMA_IMPELLER_TAGS = ("P-131", "P-166")
COMMA_HOURS_TAG = "P-140"
LOST_PUMP = ("P-221", "old-harbour-depot")


@dataclass(frozen=True)
class PumpRow:
    """A pump of the files."""

    tag: str
    site: str
    model: Model
    elastomer: str
    serial: str
    cells: tuple[Any, ...]

    @property
    def external_id(self) -> str:
        """The key under which the operator's ERP knows it."""
        return f"fmu-{self.tag[2:]}"


PUMP_COLUMNS = (
    "external_id,tag,site,model,serial_number,elastomer,seal_faces,impeller_diameter_mm,fluid,temperature_min_c,"
    "temperature_max_c,criticality,state,installed_on"
)


def pump_rows(days: Days) -> list[PumpRow]:
    """The pumps in the order of their tags; the last is at a site that is not known any more."""
    chance = random.Random(120)
    serials: dict[str, int] = {}
    found: list[PumpRow] = []
    for site, code, elastomer, fluid, cold, hot, count in GROUPS:
        model = MODEL_OF[code]
        for _ in range(count):
            serials[model.letters] = serials.get(model.letters, 40100) + chance.randint(1, 7)
            found.append(
                _pump(days, chance, f"P-{FIRST_TAG + len(found)}", site, model, elastomer, fluid, cold, hot,
                      f"{model.letters}-{serials[model.letters]}")
            )  # fmt: skip
    tag, site = LOST_PUMP
    lost = _pump(days, chance, tag, site, MODEL_OF["skerra-c-32-160"], "EPDM", "potable-water", 3, 12, "SC-39877")
    return [*found, lost]


def _pump(
    days: Days,
    chance: random.Random,
    tag: str,
    site: str,
    model: Model,
    elastomer: str,
    fluid: str,
    cold: int,
    hot: int,
    serial: str,
) -> PumpRow:
    nominal = int(model.designation.split("-")[-1])
    impeller = f"{nominal + chance.randint(-6, 9)}.{chance.choice('05')}"
    vital = model.code in VITAL_GROUPS or tag in VITAL_TAGS
    criticality = "vital" if vital else chance.choice(("essential", "essential", "desirable"))
    state = "standby" if site == "central-store" else chance.choices(("in-service", "standby"), (9, 1))[0]
    if tag in VITAL_TAGS:
        state, impeller = "in-service", "209.0"
    hot_faces = fluid in {"heating-water", "fish-oil"} or model.short in {"L100", "L125"}
    faces = "" if model.seal_mm >= 60 else "Q1 Q1" if hot_faces else "Q1 B"
    written = serial.replace("-", "- ", 1) if tag == SPACED_SERIAL_TAG else serial
    shown = impeller.replace(".", ",") if tag in COMMA_IMPELLER_TAGS else impeller
    installed = days.off(-chance.randint(900, 4200))
    external = f"fmu-{tag[2:]}"
    cells = (external, tag, site, model.code, written, elastomer, faces, shown, fluid, cold, hot, criticality, state,
             installed.isoformat())  # fmt: skip
    return PumpRow(tag, site, model, elastomer, serial, cells)


def hour_rows(days: Days, pumps: list[PumpRow]) -> list[tuple[str, str, str]]:
    """Readings of the hour meters: pump, when, hours. They only ever rise."""
    chance = random.Random(730)
    found = []
    for one in pumps[:-1]:
        share = _share_of_day(one, chance)
        hours = chance.randint(2000, 9000) + 0.1 * chance.randint(0, 9)
        before = READ_DAYS_AGO[0]
        for ago in READ_DAYS_AGO:
            hours += (before - ago) * 24 * share
            before = ago
            text = f"{hours:.1f}"
            if one.tag == COMMA_HOURS_TAG and ago == READ_DAYS_AGO[-1]:
                text = text.replace(".", ",")
            found.append((one.external_id, moment(days.off(-ago), 7, chance.randint(0, 59)), text))
    return found


def _share_of_day(pump: PumpRow, chance: random.Random) -> float:
    """How much of the day a pump runs: pull-out pumps most of it, pumps kept in store not at all."""
    if pump.site == "central-store":
        return 0.0
    return chance.uniform(0.55, 0.9) if pump.model.short in PULL_OUT else chance.uniform(0.15, 0.7)
