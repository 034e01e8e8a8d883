"""A large catalogue, the same each time: files as an ERP would hand them over, and what loads them.

By default 3,000 pump models with 20 wear positions each and 100,000 pumps, which make about 12,000 build classes: each
model is installed in two elastomers, and either in two fluids or on both sides of a serial number at which its wear
ring was widened. Names and figures are invented; sizes follow the standards that the specifications name.
"""

import csv
import datetime
import io
import random
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db import transaction

from services.api.loading import known_loads
from services.bulk_loads.operations import load_rows
from services.bulk_loads.reading import CSV, read_rows
from services.identity.callers import Caller

BEFORE_PUMPS = ("sites", "makers", "fluids", "pump-models", "wear-positions")
SEED = 20260101
FIRST_DAY = datetime.date(2001, 1, 1)
CONFIGURATIONS = ("close-coupled", "long-coupled-back-pull-out", "in-line", "between-bearings")
ELASTOMERS = ("EPDM", "FKM")
SEAL_LETTER = {"EPDM": "E", "FKM": "V"}
# code, family, coldest and hottest degC of the pumps in it
FLUIDS = (
    ("works-water", "water", 3, 12),
    ("works-heating-water", "water", 50, 95),
    ("works-brine", "glycol-water", -8, 15),
    ("works-sea-water", "sea-water", 2, 15),
    ("works-oil", "mineral-oil", 20, 80),
    ("works-alkali", "dilute-alkali", 10, 60),
)
O_RINGS = ("151.99x3.53", "164.69x3.53", "202.79x3.53", "171.04x3.53", "209.14x3.53", "253.59x3.53", "215.49x3.53")
SMALL_O_RINGS = ("12.42x1.78", "15.6x1.78", "18.72x2.62", "21.95x1.78", "26.57x3.53", "29.74x3.53", "34.52x3.53")
BEARINGS = ("6305/C3", "6306/C3", "6307/C3", "6308/C3", "6309/C3", "6310/C3", "6311/C3", "6313/C3")
SHAFTS_MM = (20, 25, 28, 30, 35, 38, 40, 45, 48, 50, 55, 60)
# The first serial number with the wider wear ring, of the models that have both.
WIDER_FROM = 5000


@dataclass(frozen=True)
class CatalogueSize:
    """How much of each there is."""

    models: int = 3000
    pumps: int = 100_000
    sites: int = 40
    makers: int = 12


def make_catalogue(by: Caller, size: CatalogueSize, kinds: Iterable[str]) -> None:
    """Load the files of these kinds, each in a transaction of its own. The tables of the trade must be there."""
    files = catalogue_files(size)
    for kind in kinds:
        with transaction.atomic(savepoint=False):
            chosen = known_loads()[kind]
            for outcomes in load_rows(chosen, by, read_rows(chosen, written(files[kind]), CSV)):
                wrong = [one for one in outcomes if one.outcome != "created"]
                assert not wrong, wrong[0]


def catalogue_files(size: CatalogueSize) -> dict[str, Iterator[tuple[object, ...]]]:
    """Rows by kind of file, the header first, in the order in which they have to be loaded."""
    return {
        "sites": sites(size),
        "makers": makers(size),
        "fluids": fluids(),
        "pump-models": pump_models(size),
        "wear-positions": wear_positions(size),
        "pumps": pumps(size),
    }


def written(rows: Iterable[tuple[object, ...]]) -> bytes:
    """Rows as a CSV file."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue().encode()


def model_code(number: int) -> str:
    return f"works-{number:04d}"


def sites(size: CatalogueSize) -> Iterator[tuple[object, ...]]:
    yield "code", "name", "time_zone"
    for number in range(size.sites):
        yield f"works-{number:02d}", f"Works {number:02d}", "Europe/Oslo"


def makers(size: CatalogueSize) -> Iterator[tuple[object, ...]]:
    yield "code", "name"
    for number in range(size.makers):
        yield f"foundry-{number:02d}", f"Foundry {number:02d}"


def fluids() -> Iterator[tuple[object, ...]]:
    yield "code", "name", "family"
    for code, family, _, _ in FLUIDS:
        yield code, code.replace("-", " ").capitalize(), family


def pump_models(size: CatalogueSize) -> Iterator[tuple[object, ...]]:
    yield (
        "external_id", "maker", "series", "designation", "configuration", "shaft_diameter_at_seal_mm",
        "rated_speed_rpm", "rated_power_kw",
    )  # fmt: skip
    for number in range(size.models):
        yield (
            model_code(number),
            f"foundry-{number % size.makers:02d}",
            f"W{number // 100:02d}",
            f"{40 + number % 100}-{32 + number % 60}-{125 + number % 300}",
            CONFIGURATIONS[number % len(CONFIGURATIONS)],
            SHAFTS_MM[number % len(SHAFTS_MM)],
            (1450, 2900)[number % 2],
            (4, 7.5, 11, 15, 22, 37)[number % 6],
        )


def wear_positions(size: CatalogueSize) -> Iterator[tuple[object, ...]]:
    """Twenty a model: seven of them belong to an elastomer or to a side of the serial number."""
    yield (
        "model", "role", "quantity", "mandatory", "serial_from", "serial_to", "variant", "part_number", "category",
        "specification",
    )  # fmt: skip
    for number in range(size.models):
        for role, category, text, variant, start, end in _positions(number):
            mandatory = "no" if role in ("impeller-nut", "drain-plug-washer", "coupling-key") else "yes"
            yield model_code(number), role, 1, mandatory, start, end, variant, "", category, text


def _positions(number: int) -> Iterator[tuple[str, str, str, str, str, str]]:
    shaft = SHAFTS_MM[number % len(SHAFTS_MM)]
    large, small = O_RINGS[number % len(O_RINGS)], SMALL_O_RINGS[number % len(SMALL_O_RINGS)]
    for one in ELASTOMERS:
        condition = f"elastomer={one}"
        yield "shaft-seal", "mechanical-seal", f"NU{shaft:03d}S0 Q1 B {SEAL_LETTER[one]} G G", condition, "", ""
        yield "casing-o-ring", "o-ring", f"{large} {one} 70", condition, "", ""
        yield "impeller-o-ring", "o-ring", f"{small} {one} 70", condition, "", ""
    bore = 60 + number % 90
    ring, wider = (f"{bore}x{bore + 12}x{width} BRONZE" for width in (10, 12))
    if two_rings(number):
        yield "wear-ring-casing", "wear-ring", ring, "", "", serial(number, WIDER_FROM - 1)
        yield "wear-ring-casing", "wear-ring", wider, "", serial(number, WIDER_FROM), ""
    else:
        yield "wear-ring-casing", "wear-ring", ring, "", "", ""
        yield "wear-ring-impeller", "wear-ring", f"{bore - 10}x{bore + 2}x10 BRONZE", "", "", ""
    yield "bearing-de", "rolling-bearing", BEARINGS[number % len(BEARINGS)], "", "", ""
    yield "bearing-nde", "rolling-bearing", BEARINGS[(number + 3) % len(BEARINGS)], "", "", ""
    yield "cover-gasket", "flat-gasket", f"{bore + 40}x{bore + 16}x0.5 FIBRE", "", "", ""
    yield "gland-gasket", "flat-gasket", f"{bore + 20}x{bore}x0.5 FIBRE", "", "", ""
    yield "drain-plug-washer", "flat-gasket", ("18x14x1.5 COPPER", "22x17x1.5 COPPER")[number % 2], "", "", ""
    yield "shaft-sleeve", "sleeve", f"{shaft}x{shaft + 6}x60 CRNIMO", "", "", ""
    yield "impeller-key", "key", ("5x5x20", "6x6x22", "8x7x28")[number % 3], "", "", ""
    yield "coupling-key", "key", ("6x6x25", "8x7x32")[number % 2], "", "", ""
    yield "circlip", "circlip", ("shaft 30x1.5", "shaft 35x1.5", "shaft 50x2")[number % 3], "", "", ""
    yield "lock-washer", "other", f"lock washer M{12 + number % 12} W{number // 100:02d}", "", "", ""
    yield "impeller-nut", "other", f"impeller nut M{12 + number % 12} W{number // 100:02d}", "", "", ""
    yield "deflector", "other", f"deflector {shaft - 1} mm W{number // 100:02d}", "", "", ""


def two_rings(number: int) -> bool:
    """Whether the wear ring of this model was widened at some serial number."""
    return number % 2 == 0


def serial(model: int, number: int) -> str:
    return f"W{model:04d}-{number:05d}"


def pumps(size: CatalogueSize) -> Iterator[tuple[object, ...]]:
    """Site after site, in no order of models."""
    yield (
        "external_id", "tag", "site", "model", "serial_number", "elastomer", "seal_faces", "impeller_diameter_mm",
        "fluid", "temperature_min_c", "temperature_max_c", "criticality", "state", "installed_on",
    )  # fmt: skip
    places = list(range(size.pumps))
    random.Random(SEED).shuffle(places)
    for row, place in enumerate(places):
        of_model, model = divmod(place, size.models)
        side = of_model // 2 % 2
        fluid, _, coldest, hottest = FLUIDS[(model + (0 if two_rings(model) else side)) % len(FLUIDS)]
        yield (
            f"works-pump-{row:06d}",
            f"W-{row:06d}",
            f"works-{row * size.sites // size.pumps:02d}",
            model_code(model),
            serial(model, of_model + 1 + (WIDER_FROM if two_rings(model) and side else 0)),
            ELASTOMERS[of_model % 2],
            "Q1 B",
            160 + place % 60 + 0.5,
            fluid,
            coldest,
            hottest,
            ("vital", "essential", "essential", "desirable")[place % 4],
            ("in-service", "in-service", "in-service", "standby")[row % 4],
            FIRST_DAY + datetime.timedelta(days=place % 8000),
        )
