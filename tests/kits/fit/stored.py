"""Random catalogues written into the database, read back from it in plain values, and what is stored of their fits."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from assets.calculations.serial_ranges import just_after, normalise_serial
from assets.models import Bin, Fluid, FluidFamily, Maker, PositionRole, Pump, PumpModel, Site, WearPosition
from assets.operations.build_classes import add_serial_cut_points, add_temperature_cut_points, place_pumps
from kits.models import (
    Coverage,
    FitMark,
    FitResult,
    Item,
    Kit,
    KitLine,
    KitScope,
    LubricantAdvice,
    Material,
    MaterialLimit,
    MaterialRating,
    MaterialStorageGroup,
    Part,
    SealFace,
    SealFaceRating,
    Supersession,
)
from kits.operations.fit import compute_marked
from kits.queries.materials import suitability_tables
from tests.kits.fit import brute_force
from tests.kits.fit.brute_force import Catalogue, elastomers, is_declared, judge
from tests.kits.fit.random_catalogues import DEGREES, FAMILIES, HOTTEST, MATERIALS, RANGES, SCOPES, WATER

Row = tuple[str, int, int, bool]
Pair = tuple[uuid.UUID, uuid.UUID]


def write(catalogue: Catalogue, site: Site) -> None:
    """Put a catalogue into the database, in place of whatever materials were known, and place its pumps. Every serial
    number and temperature that random catalogues use divides the build classes from the beginning."""
    _write_tables(catalogue)
    parts = _write_parts(catalogue)
    models = _write_models(catalogue)
    _write_kits(catalogue, parts, models)
    add_serial_cut_points([(model, serial) for model in models.values() for one in RANGES for serial in bounds(*one)])
    _write_pumps(catalogue, site, models)


def bounds(start: str, end: str) -> list[str]:
    """Serial numbers at which a range begins and at which what lies behind it begins."""
    return [one for one in (start, just_after(end) if end else "") if one]


def _write_tables(catalogue: Catalogue) -> None:
    for rows in (MaterialRating, MaterialLimit, MaterialStorageGroup, LubricantAdvice, Material):
        rows._default_manager.all().delete()
    families = FluidFamily.objects.bulk_create(
        [FluidFamily(code=code, name=code, is_water=code in WATER) for code in FAMILIES]
    )
    Fluid.objects.bulk_create([Fluid(code=one.code, name=one.code, family=one) for one in families])
    made = Material.objects.bulk_create([Material(code=one, name=one, source="random") for one in MATERIALS])
    materials = {one.code: one for one in made}
    MaterialLimit.objects.bulk_create(
        [
            MaterialLimit(
                material=materials[one.material],
                air_min_c=one.coldest,
                air_max_c=one.hottest,
                hot_water_max_c=one.hottest_in_water,
                source="random",
            )
            for one in catalogue.limits
        ]
    )
    of = {one.code: one for one in families}
    MaterialRating.objects.bulk_create(
        [
            MaterialRating(
                material=materials[one.material],
                fluid_family=of[one.family],
                up_to_c=one.up_to,
                rating=one.letter,
                source="random",
            )
            for one in catalogue.ratings
        ]
    )
    SealFaceRating.objects.all().delete()
    SealFace.objects.all().delete()
    faces = {
        one: SealFace.objects.create(letters=one, name=one, source="random")
        for one in sorted({one.material for one in catalogue.face_ratings})
    }
    SealFaceRating.objects.bulk_create(
        [
            SealFaceRating(
                seal_face=faces[one.material],
                fluid_family=of[one.family],
                up_to_c=one.up_to,
                rating=one.letter,
                source="random",
            )
            for one in catalogue.face_ratings
        ]
    )
    add_temperature_cut_points([*DEGREES, *HOTTEST, *suitability_tables().cut_points()])
    for name, roles in SCOPES.items():
        scope = KitScope.objects.create(code=f"trial-{name}", name=name)
        scope.roles.set(PositionRole.objects.filter(code__in=roles))


def _write_parts(catalogue: Catalogue) -> dict[str, uuid.UUID]:
    items = Item.objects.bulk_create([Item(kind="part", number=one.number, name=one.number) for one in catalogue.parts])
    ids = {one.number: one.pk for one in items}
    Part.objects.bulk_create(
        [
            Part(
                item_id=ids[one.number],
                category=stored["category"],
                specification=stored,
                elastomers=sorted(elastomers(stored)),
            )
            for one in catalogue.parts
            for stored in [one.specification or {"category": "other"}]
        ]
    )
    Supersession.objects.bulk_create(
        [
            Supersession(
                old_id=ids[one.old],
                new_id=ids[one.new],
                from_date=one.from_date,
                until_date=one.until,
                both_ways=one.both_ways,
            )
            for one in catalogue.replacements
        ]
    )
    return ids


def _write_models(catalogue: Catalogue) -> dict[str, uuid.UUID]:
    maker = Maker.objects.create(code="trial", name="Trial")
    made = PumpModel.objects.bulk_create(
        [
            PumpModel(
                code=name,
                maker=maker,
                series="T",
                designation=name,
                configuration="close-coupled",
                shaft_diameter_at_seal_mm=Decimal(38),
                rated_speed_rpm=Decimal(1450),
                rated_power_kw=Decimal(4),
            )
            for name in catalogue.models
        ]
    )
    ids = {one.code: one.pk for one in made}
    WearPosition.objects.bulk_create(
        [
            WearPosition(
                pump_model_id=ids[name],
                role_id=one.role,
                quantity=one.quantity,
                mandatory=one.mandatory,
                serial_from=one.serial_from,
                serial_to=one.serial_to,
                variant=one.variant,
                part_number=one.number,
                specification=one.specification,
            )
            for name, positions in catalogue.models.items()
            for one in positions
        ]
    )
    return ids


def _write_kits(catalogue: Catalogue, parts: dict[str, uuid.UUID], models: dict[str, uuid.UUID]) -> None:
    scopes = {
        frozenset(one.roles.values_list("code", flat=True)): one
        for one in KitScope.objects.filter(code__startswith="trial")
    }
    items = Item.objects.bulk_create(
        [Item(kind="kit", number=one.key, revision="A", name=one.key) for one in catalogue.kits]
    )
    ids = {one.number: one.pk for one in items}
    Kit.objects.bulk_create([Kit(item_id=ids[one.key], scope=scopes[one.scope]) for one in catalogue.kits])
    KitLine.objects.bulk_create(
        [
            KitLine(
                kit_id=ids[kit.key],
                line=at,
                role_id=one.role,
                part_id=parts[one.part.number],
                quantity=one.quantity,
                optional=one.optional,
                alternative_group=one.group,
            )
            for kit in catalogue.kits
            for at, one in enumerate(kit.lines, 1)
        ]
    )
    Coverage.objects.bulk_create(
        [
            Coverage(
                kit_id=ids[kit.key],
                pump_model_id=models[one.model],
                serial_from=one.serial_from,
                serial_to=one.serial_to,
            )
            for kit in catalogue.kits
            for one in kit.coverage
        ]
    )
    Kit.objects.filter(pk__in=ids.values()).update(state="released")


def _write_pumps(catalogue: Catalogue, site: Site, models: dict[str, uuid.UUID]) -> None:
    fluids = {one.code: one for one in Fluid.objects.select_related("family").filter(code__in=FAMILIES)}
    pumps = {}
    for at, one in enumerate(catalogue.pumps):
        serial = normalise_serial(one.serial)[0]
        pumps[one.model, serial] = Pump(
            tag=f"P-{at}",
            site=site,
            pump_model_id=models[one.model],
            serial_number=serial,
            variant=one.variant,
            fluid=fluids[one.family],
            temperature_min_c=one.coldest,
            temperature_max_c=one.hottest,
            criticality="essential",
        )
    place_pumps(Pump.objects.bulk_create(pumps.values()))


def read_back() -> Catalogue:
    """What stands in the database now, kits, models and build classes under their ids; drafts and withdrawn kits are
    left out."""
    models: dict[Any, list[brute_force.Position]] = {one: [] for one in PumpModel.objects.values_list("id", flat=True)}
    for one in WearPosition.objects.all():
        models[one.pump_model_id].append(
            brute_force.Position(
                role=one.role_id,
                quantity=one.quantity,
                mandatory=one.mandatory,
                number=one.part_number,
                specification=one.specification,
                serial_from=one.serial_from,
                serial_to=one.serial_to,
                variant=one.variant,
            )
        )
    parts = {
        one.pk: brute_force.Part(one.item.number, one.specification if len(one.specification) > 1 else None)
        for one in Part.objects.select_related("item")
    }
    return Catalogue(
        models=models,
        parts=list(parts.values()),
        kits=[
            brute_force.Kit(
                kit.pk,
                frozenset(role.code for role in kit.scope.roles.all()),
                tuple(
                    brute_force.Line(one.role_id, parts[one.part_id], one.quantity, one.optional, one.alternative_group)
                    for one in kit.lines.all()
                ),
                tuple(
                    brute_force.Covered(one.pump_model_id, one.serial_from, one.serial_to) for one in kit.coverage.all()
                ),
            )
            for kit in Kit.objects.filter(state="released").prefetch_related("scope__roles", "lines", "coverage")
        ],
        pumps=[
            brute_force.Pump(
                one.pump_model_id,
                one.serial_number,
                one.variant,
                one.fluid.family.code,
                one.temperature_min_c,
                one.temperature_max_c,
                one.build_class_id,
            )
            for one in Pump.objects.select_related("fluid__family")
        ],
        replacements=[
            brute_force.Replacement(
                parts[one.old_id].number, parts[one.new_id].number, one.from_date, one.both_ways, one.until_date
            )
            for one in Supersession.objects.all()
        ],
        ratings=[
            brute_force.Rating(one.material.code, one.fluid_family.code, one.up_to_c, one.rating)
            for one in MaterialRating.objects.select_related("material", "fluid_family")
        ],
        limits=[
            brute_force.Limit(one.material.code, one.air_min_c, one.air_max_c, one.hot_water_max_c)
            for one in MaterialLimit.objects.select_related("material")
        ],
        face_ratings=[
            brute_force.Rating(one.seal_face.letters, one.fluid_family.code, one.up_to_c, one.rating)
            for one in SealFaceRating.objects.select_related("seal_face", "fluid_family")
        ],
        water=frozenset(FluidFamily.objects.filter(is_water=True).values_list("code", flat=True)),
    )


def fits_by_hand(catalogue: Catalogue, on: datetime.date) -> dict[Pair, Row]:
    """(kit, build class) -> (verdict, matched, asked, declared) by the second hand, each pump judged for itself. Pumps
    of one build class must agree. No fit is left out."""
    rows: dict[Pair, Row] = {}
    for kit in catalogue.kits:
        of_class: dict[Any, Row] = {}
        for pump in catalogue.pumps:
            found = judge(catalogue, kit, pump, on)
            row = (found.verdict, found.matched, found.asked, is_declared(kit, pump))
            assert of_class.setdefault(pump.build_class, row) == row, f"pumps of one build class differ: {kit} {pump}"
        rows |= {(kit.key, one): row for one, row in of_class.items() if row[0] != "no-fit"}
    return rows


def stored_fits(*, of_pumps: bool = True) -> dict[Pair, Row]:
    """The same as stored, of the build classes that pumps have, or of all."""
    rows = FitResult.objects.all()
    if of_pumps:
        rows = rows.filter(build_class__in=Pump.objects.values("build_class"))
    found = rows.values_list("kit_id", "build_class_id", "verdict", "matched", "asked", "declared")
    return {(kit, one): (verdict, matched, asked, declared) for kit, one, verdict, matched, asked, declared in found}


def drain() -> None:
    """Compute until nothing is marked."""
    while compute_marked(limit=50):
        continue
    assert not FitMark.objects.exists()


def rebuild() -> None:
    """Forget every result and compute all kits anew."""
    FitResult.objects.all().delete()
    FitMark.objects.bulk_create(
        [FitMark(kit=one) for one in Kit.objects.filter(state="released")], ignore_conflicts=True
    )
    drain()


def empty_site(code: str) -> Site:
    site = Site.objects.create(code=code, name=code, time_zone="UTC")
    Bin.objects.create(site=site, code="MAIN", is_default=True)
    return site
