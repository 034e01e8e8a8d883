"""A large catalogue for the fit engine, the same each time: 4,000 kits of 25 lines, 60,000 parts with chains of
supersession, 3,000 pump models of 20 positions, 100,000 pumps in about 12,000 build classes.

Sizes and numbers are invented; what each is shared by a few models, common ones by some tens, as in a pump works.
"""

import datetime
import itertools
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.db.models import NOT_PROVIDED
from psycopg import sql

from assets.calculations.build_class import relevant_variant_keys
from assets.calculations.part_specifications import Specification, parse_specification
from assets.calculations.serial_ranges import Segments
from assets.models import BuildClass, Fluid, FluidFamily, Maker, Pump, PumpModel, Site, WearPosition
from assets.operations.build_classes import add_serial_cut_points
from assets.queries.build_classes import class_of, serial_cut_points, temperature_cut_points
from assets.queries.pump_models import variant_conditions
from kits.models import Coverage, Item, Kit, KitLine, KitScope, Part, Supersession
from services.api.identifiers import new_id

MODELS, POSITIONS, KITS, LINES, PUMPS = 3000, 20, 4000, 25, 100_000
LONG_CHAIN = 150
FAMILIES = ("water", "glycol-water", "sea-water", "mineral-oil", "dilute-alkali", "vegetable-oil")
RANGES = ((3, 12), (-8, 15), (2, 15), (20, 80), (10, 60), (5, 70))
WIDER_FROM = 5000
SEALS = (18, 20, 22, 24, 25, 28, 30, 32, 33, 35, 38, 40, 43, 45, 48, 50, 53, 55, 58, 60, 63, 65, 68, 70)
FACES = ("Q1 B", "Q1 Q1", "U1 B", "V B", "Q2 B", "U2 U2")
KEYS = ("5x5", "6x6", "8x7", "10x8", "12x8", "14x9")
LENGTHS = (20, 22, 25, 28, 32, 36, 40, 45, 50, 56, 63, 70)


@dataclass(frozen=True)
class Place:
    """A position of a model: its role, what it asks for, on which variant and serial numbers."""

    role: str
    category: str
    text: str
    variant: dict[str, str]
    serial_from: str = ""
    serial_to: str = ""
    mandatory: bool = True


def serial(model: int, number: int) -> str:
    return f"W{model:04d}-{number:05d}"


def places(model: int) -> list[Place]:
    """The twenty positions of a model; seven belong to an elastomer or to a side of the serial number."""
    shaft, faces = SEALS[model % 24], FACES[model // 24 % 6]
    large, small = 60 + Decimal("0.31") * (model % 900), 12 + Decimal("0.17") * (model % 310)
    found = []
    for elastomer, letter in (("EPDM", "E"), ("FKM", "V")):
        variant = {"elastomer": elastomer}
        found += [
            Place("shaft-seal", "mechanical-seal", f"NU{shaft:03d}S0 {faces} {letter} G G", variant),
            Place("casing-o-ring", "o-ring", f"{large}x3.53 {elastomer} 70", variant),
            Place("impeller-o-ring", "o-ring", f"{small}x1.78 {elastomer} 70", variant),
        ]
    bore = 60 + model % 500
    found += [
        Place("wear-ring-casing", "wear-ring", f"{bore}x{bore + 12}x10 BRONZE", {}, "", serial(model, WIDER_FROM - 1)),
        Place("wear-ring-casing", "wear-ring", f"{bore}x{bore + 12}x12 BRONZE", {}, serial(model, WIDER_FROM), ""),
        Place("bearing-de", "rolling-bearing", bearing(model), {}),
        Place("bearing-nde", "rolling-bearing", bearing(model + 61), {}),
        Place("cover-gasket", "flat-gasket", f"{100 + model % 700}x{70 + model % 700}x0.5 FIBRE", {}),
        Place("gland-gasket", "flat-gasket", f"{80 + model % 650}x{60 + model % 650}x0.5 FIBRE", {}),
        Place("drain-plug-washer", "flat-gasket", f"{18 + model % 40}x{12 + model % 40}x1.5 COPPER", {}),
        Place("shaft-sleeve", "sleeve", f"{shaft}x{shaft + 6}x{40 + model // 24 % 60} CRNIMO", {}),
        Place("impeller-key", "key", f"{KEYS[model % 6]}x{LENGTHS[model // 6 % 12]}", {}),
        Place("circlip", "circlip", f"shaft {20 + model % 80}x1.5", {}),
        Place("lock-washer", "other", f"lock washer {model // 3}", {}, mandatory=False),
        Place("impeller-nut", "other", f"impeller nut {model // 3}", {}, mandatory=False),
        Place("deflector", "other", f"deflector {model // 3}", {}),
        Place("coupling-key", "key", f"{KEYS[(model + 1) % 6]}x{LENGTHS[model // 7 % 12]}", {}, mandatory=False),
    ]
    return found


def bearing(number: int) -> str:
    """One of 216: two series, eighteen bores, three closures, two clearances."""
    series, bore, closure, clearance = number % 2, number // 2 % 18, number // 36 % 3, number // 108 % 2
    return f"6{2 + series}{4 + bore:02d}{('', '-2Z', '-2RS')[closure]}{('', '/C3')[clearance]}"


def part_number(model: int, place: int) -> str:
    return f"W{model:04d}-{place:02d}"


def make_fit_catalogue() -> None:
    """Everything but verdicts. The tables of the trade must be there."""
    with transaction.atomic(savepoint=False):
        models = _models()
        specifications = _positions(models)
        parts = _parts(specifications)
        _chains(parts)
        _kits(models, parts)
    with transaction.atomic(savepoint=False):
        _pumps(models)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _create(model: Any, rows: Iterable[Any]) -> None:
    """Copy unsaved rows in, with what the database fills in left to it."""
    fields = [one for one in model._meta.concrete_fields if one.db_default is NOT_PROVIDED]
    names = sql.SQL(", ").join(sql.Identifier(one.column) for one in fields)
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(sql.Identifier(model._meta.db_table), names)
    with connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row([one.get_db_prep_save(getattr(row, one.attname), connection) for one in fields])


def _batches(rows: Iterable[Any], size: int) -> Iterator[list[Any]]:
    waiting = iter(rows)
    while batch := list(itertools.islice(waiting, size)):
        yield batch


def _models() -> list[PumpModel]:
    maker = Maker.objects.create(code="large-works", name="Large works")
    models = [
        PumpModel(
            code=f"large-{number:04d}", maker=maker, series=f"W{number // 100:02d}", designation=f"{number}",
            configuration="in-line", shaft_diameter_at_seal_mm=SEALS[number % 24], rated_speed_rpm=2900,
            rated_power_kw=11,
        )
        for number in range(MODELS)
    ]  # fmt: skip
    _create(PumpModel, models)
    return models


def _positions(models: list[PumpModel]) -> dict[tuple[int, int], Specification]:
    """Every other position asks for a part's number too."""
    found: dict[tuple[int, int], Specification] = {}
    read: dict[tuple[str, str], Specification] = {}
    rows = []
    for number, model in enumerate(models):
        for place, one in enumerate(places(number)):
            key = (one.category, one.text)
            if key not in read:
                read[key] = parse_specification(*key)
            found[number, place] = read[key]
            rows.append(
                WearPosition(
                    pump_model=model, role_id=one.role, quantity=1, mandatory=one.mandatory,
                    serial_from=one.serial_from, serial_to=one.serial_to, variant=one.variant,
                    part_number=part_number(number, place) if place % 2 or one.category == "other" else "",
                    specification=read[key].to_json(),
                )
            )  # fmt: skip
    _create(WearPosition, rows)
    add_serial_cut_points((model.pk, serial(number, WIDER_FROM)) for number, model in enumerate(models))
    return found


def _parts(specifications: dict[tuple[int, int], Specification]) -> dict[tuple[int, int], uuid.UUID]:
    ids = {key: new_id() for key in specifications}
    _create(
        Item,
        (
            Item(id=pk, kind="part", number=part_number(*key), name="Part", cost=Decimal(9), currency="EUR")
            for key, pk in ids.items()
        ),
    )
    _create(
        Part,
        (
            Part(
                item_id=ids[key], category=one.category, specification=one.to_json(),
                elastomers=list(one.elastomers()),
            )
            for key, one in specifications.items()
        ),
    )  # fmt: skip
    return ids


def _chains(parts: dict[tuple[int, int], uuid.UUID]) -> None:
    """Chains of four parts in nine positions of every four models, and one long one."""
    first = datetime.date(2015, 1, 1)
    links = [
        (parts[model + step, place], parts[model + step + 1, place], place % 4 == 0)
        for model in range(0, MODELS - 4, 4)
        for place in range(0, 18, 2)
        for step in range(3)
    ]
    links += [(parts[model, 19], parts[model + 1, 19], False) for model in range(LONG_CHAIN)]
    _create(
        Supersession,
        (
            Supersession(old_id=old, new_id=new, from_date=first + datetime.timedelta(days=row % 3000), both_ways=both)
            for row, (old, new, both) in enumerate(links)
        ),
    )


def _kits(models: list[PumpModel], parts: dict[tuple[int, int], uuid.UUID]) -> None:
    """A kit for each model in one elastomer, for every third model in both; some lines have alternatives from the
    model beside it."""
    scope = KitScope.objects.get(code="full-overhaul")
    again = [(number - MODELS) * 3 % MODELS for number in range(MODELS, KITS)]
    kits = [(new_id(), model, model % 2) for model in range(MODELS)]
    kits += [(new_id(), model, 1 - model % 2) for model in again]
    _create(
        Item,
        (
            Item(
                id=pk, kind="kit", number=f"LK-{number:04d}", revision="A", name="Overhaul kit",
                cost=Decimal(300 + number % 200), currency="EUR",
            )
            for number, (pk, _, _) in enumerate(kits)
        ),
    )  # fmt: skip
    _create(Kit, (Kit(item_id=pk, scope=scope) for pk, _, _ in kits))
    _create(KitLine, (line for pk, model, elastomer in kits for line in _lines(pk, model, elastomer, parts)))
    Kit.objects.filter(scope=scope).update(state="released", released_at=datetime.datetime.now(datetime.UTC))
    _create(
        Coverage,
        (Coverage(kit_id=pk, pump_model=models[(model + step) % MODELS]) for pk, model, _ in kits for step in range(2)),
    )


def _lines(kit: uuid.UUID, model: int, elastomer: int, parts: dict[tuple[int, int], uuid.UUID]) -> Iterator[KitLine]:
    wanted = [place for place in range(POSITIONS) if place // 3 != 1 - elastomer or place >= 6]
    beside = (model + 1) % MODELS
    chosen = [(place, model) for place in wanted] + [(place, beside) for place in wanted[: LINES - len(wanted)]]
    roles = [one.role for one in places(model)]
    doubled = {place for place, source in chosen if source == beside}
    for line, (place, source) in enumerate(chosen, 1):
        yield KitLine(
            kit_id=kit, line=line, role_id=roles[place], part_id=parts[source, place], quantity=1,
            optional=place >= 16, alternative_group=f"choice-{place}" if place in doubled else "",
        )  # fmt: skip


def _pumps(models: list[PumpModel]) -> None:
    sites = Site.objects.bulk_create(
        [Site(code=f"large-{number:02d}", name=f"Works {number}", time_zone="Europe/Oslo") for number in range(40)]
    )
    families = {one.code: one for one in FluidFamily.objects.filter(code__in=FAMILIES)}
    fluids = [Fluid(code=f"large-{one}", name=one, family=families[one]) for one in FAMILIES]
    Fluid.objects.bulk_create(fluids)
    rows = [_pump(row, models, sites, fluids) for row in range(PUMPS)]
    classes = _place(rows)
    _create(BuildClass, classes)
    _create(Pump, rows)


def _place(pumps: list[Pump]) -> list[BuildClass]:
    """Give each pump its build class; pumps that differ in nothing but serial number and tag share the search."""
    models = {one.pump_model_id for one in pumps}
    cuts, degrees = serial_cut_points(models), temperature_cut_points()
    conditions = variant_conditions(models)
    relevant = {model: relevant_variant_keys(conditions[model]) for model in models}
    found: dict[tuple[Any, ...], BuildClass] = {}
    for pump in pumps:
        side = int(pump.serial_number[-5:]) >= WIDER_FROM
        alike = (pump.pump_model_id, side, pump.variant["elastomer"], pump.fluid_id)
        if alike not in found:
            found[alike] = class_of(
                pump, Segments(cuts.get(pump.pump_model_id, ())), degrees, relevant[pump.pump_model_id]
            )
        pump.build_class = found[alike]
    return list(found.values())


def _pump(row: int, models: list[PumpModel], sites: list[Site], fluids: list[Fluid]) -> Pump:
    of_model, model = divmod(row, MODELS)
    side = of_model // 2 % 2
    which = (model + (0 if model % 2 else side)) % len(FAMILIES)
    return Pump(
        tag=f"L-{row:06d}", site=sites[row % len(sites)], pump_model=models[model],
        serial_number=serial(model, of_model + 1 + (WIDER_FROM if model % 2 and side else 0)),
        variant={"elastomer": ("EPDM", "FKM")[of_model % 2]}, fluid=fluids[which],
        temperature_min_c=RANGES[which][0], temperature_max_c=RANGES[which][1],
        criticality=("vital", "essential", "essential", "desirable")[row % 4],
    )  # fmt: skip
