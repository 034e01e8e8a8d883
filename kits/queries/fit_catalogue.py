"""The catalogue as the rule of fit reads it, as arrays: kits with their lines, build classes with their positions."""

import datetime
import hashlib
import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import orjson
from django.db.models import TextField
from django.db.models.functions import Cast

from assets.calculations.build_class import variant_matches
from assets.calculations.part_numbers import normalise_number
from assets.calculations.part_specifications import Specification, specification_from_json
from assets.calculations.serial_ranges import SerialRange
from assets.models import BuildClass, WearPosition
from kits.calculations.coverage import declared_for_pump
from kits.calculations.fit import OperatingConditions, thousandths
from kits.calculations.fit_arrays import AskedRows, OfferedRows, Scopes
from kits.calculations.fit_catalogue import ClassArrays, KitArrays
from kits.calculations.fit_reasons import Brought, brought_by
from kits.calculations.matching import Described, Ints
from kits.calculations.material_suitability import SuitabilityTables
from kits.calculations.supersession import Supersessions
from kits.models import Kit, KitLine, KitScope, Part
from kits.queries.coverage import declared_of_models


@dataclass(frozen=True)
class LoadedKits:
    """Released kits: ids in the order of their places, the arrays, and a digest of what was read of each."""

    ids: Sequence[uuid.UUID]
    arrays: KitArrays
    seen: Ints


@dataclass(frozen=True)
class LoadedClasses:
    """Build classes: ids in the order of their places, the arrays, and a digest of what was read of each."""

    ids: Sequence[uuid.UUID]
    models: Sequence[uuid.UUID]
    serials: Sequence[str]
    variants: Sequence[Mapping[str, str]]
    arrays: ClassArrays
    seen: Ints


class Places:
    """Numbers from 0 for things as they come."""

    def __init__(self, known: Iterable[Any] = ()) -> None:
        self.of: dict[Any, int] = {one: place for place, one in enumerate(known)}

    def __getitem__(self, one: Any) -> int:
        return self.of.setdefault(one, len(self.of))


def load_kits(
    kit_ids: Collection[uuid.UUID] | None,
    roles: Places,
    supersessions: Supersessions[str],
    tables: SuitabilityTables,
) -> LoadedKits:
    """Some released kits, or all of them; ``roles`` holds every position role. Four queries."""
    released = Kit.objects.filter(state="released")
    if kit_ids is not None:
        released = released.filter(pk__in=list(kit_ids))
    scope_of = dict(released.order_by("item_id").values_list("item_id", "scope__code"))
    place = {kit: number for number, kit in enumerate(scope_of)}
    rows = KitLine.objects.filter(kit__in=released).order_by("kit_id", "line")
    lines = list(rows.values_list("kit_id", "role_id", "part_id", "quantity", "alternative_group"))
    scopes, scope_texts = _scopes()
    parts = Part.objects.filter(kit_lines__kit__in=released) if kit_ids is not None else Part.objects.all()
    wanted = {line[2] for line in lines}
    numbers: dict[uuid.UUID, str] = {}
    offers: list[Described] = []
    at: dict[uuid.UUID, int] = {}
    for part, number, text in (
        parts.distinct()
        .annotate(text=Cast("specification", TextField()))
        .values_list("item_id", "item__number", "text")
    ):
        if part in wanted:
            numbers[part], at[part] = number, len(offers)
            offers.append(Described(normalise_number(number), specification_of(text)))
    rank = {number: order for order, number in enumerate(sorted(numbers.values()))}
    groups = Places()
    arrays = OfferedRows(
        kit=_ints(place[line[0]] for line in lines),
        role=_ints(roles[line[1]] for line in lines),
        offer=_ints(at[line[2]] for line in lines),
        quantity=_ints(thousandths(line[3]) for line in lines),
        group=_ints(groups[line[0], line[4]] if line[4] else -1 for line in lines),
        rank=_ints(rank[numbers[line[2]]] for line in lines),
    )
    brings = [brought_by(one.specification) for one in offers]
    brought: list[set[Brought]] = [set() for _ in place]
    for line in lines:
        brought[place[line[0]]].update(brings[at[line[2]]])
    holds = np.zeros((len(scopes), len(roles.of)), dtype=bool)
    order = sorted(scopes)
    for row, scope in enumerate(order):
        for role in scopes[scope]:
            holds[row, roles[role]] = True
    digests = [hashlib.blake2b(scope_texts[scope].encode(), digest_size=8) for scope in scope_of.values()]
    chains = _ChainTexts(supersessions)
    for line in lines:
        offer = offers[at[line[2]]]
        text = f"{line[1]}|{line[3]}|{line[4]}|{numbers[line[2]]}|{offer.specification}|{chains[offer.number]}\n"
        digests[place[line[0]]].update(text.encode())
    tables_seen = {
        one: tables.seen_face(one.code) if one.is_face else tables.seen(one.code)
        for one in {material for those in brought for material in those}
    }
    for digest, materials in zip(digests, brought, strict=True):
        digest.update("".join(tables_seen[one] for one in sorted(materials)).encode())
    return LoadedKits(
        ids=list(place),
        arrays=KitArrays(
            lines=arrays,
            offers=offers,
            scopes=Scopes(_ints(order.index(scope) for scope in scope_of.values()), holds),
            brought=[tuple(sorted(one)) for one in brought],
        ),
        seen=_signed(digest.digest() for digest in digests),
    )


def _scopes() -> tuple[dict[str, list[str]], dict[str, str]]:
    """(roles by scope, each scope as a text)."""
    found: dict[str, list[str]] = {}
    for code, role in KitScope.objects.order_by("code", "roles__code").values_list("code", "roles__code"):
        found.setdefault(code, [])
        if role is not None:
            found[code].append(role)
    return found, {code: f"{code}|{'|'.join(those)}\n" for code, those in found.items()}


class _ChainTexts:
    """The chain that a part number is in, as a text; empty where it is in none."""

    def __init__(self, supersessions: Supersessions[str]) -> None:
        self._of: dict[str, str] = {}
        for chain in supersessions.chains():
            text = "|".join(
                f"{one.old}>{one.new}@{one.from_date}:{one.until_date}{'=' if one.both_ways else ''}"
                for one in sorted(chain, key=lambda link: (link.old, link.new))
            )
            digest = hashlib.blake2b(text.encode(), digest_size=8).hexdigest()
            for one in chain:
                self._of[one.old] = self._of[one.new] = digest

    def __getitem__(self, number: str) -> str:
        return self._of.get(number, "")


def load_classes(class_ids: Collection[uuid.UUID] | None, roles: Places) -> LoadedClasses:
    """Some build classes, or all of them; ``roles`` holds every position role. Two queries."""
    chosen = BuildClass.objects.order_by("pump_model_id", "id")
    if class_ids is not None:
        chosen = chosen.filter(pk__in=list(class_ids))
    classes = list(
        chosen.values_list(
            "id", "pump_model_id", "sample_serial", "variant", "fluid_family__code", "temperature_min_c",
            "temperature_max_c", "fluid_family__is_water",
        )
    )  # fmt: skip
    positions = _positions(None if class_ids is None else {one[1] for one in classes})
    asked: list[_Position] = []
    sought, conditions, patterns = Places(), Places(), Places()
    pattern_of, texts, digests = [], [], []
    for one in classes:
        applying = _applying(positions.get(one[1], []), one[2], one[3])
        known = len(patterns.of)
        pattern = patterns[one[1], tuple(each.place for each in applying)]
        if pattern == known:
            asked.extend(applying)
            texts.append("\n".join(each.text for each in applying))
        pattern_of.append(pattern)
        digests.append(hashlib.blake2b(f"{texts[pattern]}\n{one[4:]}".encode(), digest_size=8).digest())
    counts = [len(key[1]) for key in patterns.of]
    rows = AskedRows(
        pattern=np.repeat(np.arange(len(counts)), counts),
        role=_ints(roles[one.role] for one in asked),
        sought=_ints(sought[one.sought] for one in asked),
        quantity=_ints(one.quantity for one in asked),
        mandatory=np.array([one.mandatory for one in asked], dtype=bool),
    )
    condition = _ints(conditions[OperatingConditions(one[4], one[5], one[6])] for one in classes)
    arrays = ClassArrays(
        asked=rows,
        sought=list(sought.of),
        pattern=_ints(pattern_of),
        condition=condition,
        conditions=list(conditions.of),
    )
    return LoadedClasses(
        ids=[one[0] for one in classes],
        models=[one[1] for one in classes],
        serials=[one[2] for one in classes],
        variants=[one[3] for one in classes],
        arrays=arrays,
        seen=_signed(digests),
    )


@dataclass(frozen=True)
class _Position:
    place: int
    role: str
    sought: Described
    quantity: int
    mandatory: bool
    range: SerialRange | None
    variant: Mapping[str, str]
    text: str


def _positions(model_ids: Collection[uuid.UUID] | None) -> dict[uuid.UUID, list[_Position]]:
    rows = WearPosition.objects.order_by("pump_model_id", "role_id", "serial_from", "id")
    if model_ids is not None:
        rows = rows.filter(pump_model_id__in=list(model_ids))
    found: dict[uuid.UUID, list[_Position]] = {}
    for model, role, quantity, mandatory, start, end, variant, number, text in rows.annotate(
        text=Cast("specification", TextField())
    ).values_list(
        "pump_model_id", "role_id", "quantity", "mandatory", "serial_from", "serial_to", "variant", "part_number",
        "text",
    ):  # fmt: skip
        those = found.setdefault(model, [])
        specification = specification_of(text)
        those.append(
            _Position(
                place=len(those),
                role=str(role),
                sought=Described(normalise_number(number), specification),
                quantity=thousandths(quantity),
                mandatory=mandatory,
                range=SerialRange(start, end) if start or end else None,
                variant=variant or {},
                text=f"{role}|{quantity}|{mandatory}|{number}|{specification}",
            )
        )
    return found


def _applying(positions: Sequence[_Position], serial: str, variant: Mapping[str, str]) -> list[_Position]:
    return [
        one
        for one in positions
        if (one.range is None or one.range.contains(serial)) and variant_matches(one.variant, variant)
    ]


@lru_cache(maxsize=65536)
def specification_of(text: str | None) -> Specification | None:
    """A typed specification from its stored JSON text; None where nothing but a category is known."""
    stored = orjson.loads(text) if text else None
    return specification_from_json(stored) if stored and len(stored) > 1 else None


def declared_pairs(kits: LoadedKits, classes: LoadedClasses, on: datetime.date) -> Ints:
    """Pairs for which the maker says on a day that the kit is meant, as ``class place * number of kits + kit place``,
    rising. One query."""
    kit_at = {one: place for place, one in enumerate(kits.ids)}
    said = declared_of_models(set(classes.models))
    found = [
        place * len(kits.ids) + kit_at[kit]
        for place, model in enumerate(classes.models)
        if model in said
        for kit in declared_for_pump(said[model], classes.serials[place], classes.variants[place], on)
        if kit in kit_at
    ]
    return np.unique(_ints(found))


def _ints(values: Iterable[int]) -> Ints:
    return np.fromiter(values, dtype=np.int64)


def _signed(digests: Iterable[bytes]) -> Ints:
    return np.frombuffer(b"".join(digests), dtype=">i8").astype(np.int64)
