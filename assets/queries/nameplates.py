"""Searching the catalogue and the installed pumps by nameplate: candidates from the database, scores from the
calculation. Nothing is written, and no pump of an ungranted site has any part in the answer."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib.postgres.search import TrigramSimilarity
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Greatest

from assets.access import narrow
from assets.calculations.nameplate_questions import question_for
from assets.calculations.nameplate_reading import Reading, read_plate, with_given
from assets.calculations.nameplates import (
    ANOTHER_MAKER,
    MARGIN,
    THRESHOLD,
    Match,
    PlateModel,
    is_found,
    maker_alike,
    rank,
    rivals,
    score_model,
)
from assets.calculations.plate_text import parse_size, search_key, tidy, tokens
from assets.models import Maker, Pump, PumpModel
from assets.models.pump_models import nameplate_key, type_key
from services.identity.callers import Caller

# Candidates that the database names, of all makers and again of the makers that the plate may mean.
MOST_CANDIDATES, MOST_MAKERS, MOST_PUMPS = 50, 5, 20
MOST_TEXTS = 8
# A serial number shorter than this belongs to too many pumps to say anything.
SHORTEST_SERIAL = 3
SERIAL_WEIGHT = 0.6


@dataclass(frozen=True)
class PumpMatch:
    """An installed pump with the serial number that was read; ``score`` 0 to 1."""

    pump: Pump
    score: float
    same_serial: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlateAnswer:
    """``decision``: found or ask. ``ranked`` begins with the nearest model; ``question`` is empty where found."""

    decision: str
    question: str
    ranked: list[Match]
    pumps: list[PumpMatch]
    reading: Reading
    notes: list[str]
    threshold: float
    margin: float


def match_plate(
    *,
    by: Caller,
    text: str = "",
    maker: str = "",
    type_text: str = "",
    serial: str = "",
    year: int | None = None,
    figures: dict[str, Decimal] | None = None,
    threshold: float = THRESHOLD,
    margin: float = MARGIN,
) -> PlateAnswer:
    """The model of a nameplate, given as free text, in fields, or both; and pumps at granted sites with its serial
    number. Four queries at most beside the caller's grants."""
    makers = list(Maker.objects.values_list("id", "code", "name"))
    reading = with_given(
        read_plate(text, makers=[name for _, _, name in makers]),
        maker=maker,
        type_text=type_text,
        serial=serial,
        year=year,
        figures=figures,
    )
    meant = sorted(
        ((maker_alike(reading.maker, name, code), pk) for pk, code, name in makers),
        key=lambda one: (-one[0], str(one[1])),
    )[:MOST_MAKERS]
    pumps = _pumps_with_serial(by, reading.serial)
    rows = _candidates(reading, [pk for alike, pk in meant if alike >= ANOTHER_MAKER])
    known = {one.pk: one for one in [*(one.pump_model for one in pumps), *rows]}
    ranked = rank(reading, [_as_plate_model(one) for one in known.values()])
    matched = _score_pumps(reading, pumps)
    return _decided(reading, ranked, matched, threshold=threshold, margin=margin)


def _decided(
    reading: Reading, ranked: list[Match], pumps: list[PumpMatch], *, threshold: float, margin: float
) -> PlateAnswer:
    notes = [*_pump_notes(reading, ranked, pumps), *reading.notes]
    found = is_found(ranked, threshold=threshold, margin=margin)
    if not found:
        told = _told_by_serial(ranked, pumps, threshold=threshold, margin=margin)
        if told is not None:
            ranked = [told, *(one for one in ranked if one is not told)]
            found = True
            notes.append(f"the serial number tells {told.model.code} from models with the same type")
    question = "" if found else question_for(reading, ranked, threshold=threshold, margin=margin)
    if question and pumps and not reading.type_text:
        pump = pumps[0].pump
        question = (
            f"Is it pump {pump.tag} at {pump.site.name}? Compare the type on the plate with "
            f"{pump.pump_model.series} {pump.pump_model.designation}."
        )
    if ranked:
        notes += [f"{ranked[0].model.code}: {one}" for one in ranked[0].notes]
    missing = reading.missing_of_minimum()
    if missing:
        notes.append(f"not read, though a plate should say it (EN 809): {', '.join(missing)}")
    decision = "found" if found else "ask"
    return PlateAnswer(decision, question, ranked, pumps, reading, notes, threshold, margin)


def _told_by_serial(
    ranked: Sequence[Match], pumps: Sequence[PumpMatch], *, threshold: float, margin: float
) -> Match | None:
    """Of models that answer to the plate equally well, the one of which an installed pump has this very serial."""
    if not ranked or ranked[0].score < threshold:
        return None
    near = [ranked[0], *rivals(ranked, margin=margin)]
    owned = {one.pump.pump_model_id for one in pumps if one.same_serial}
    told = [one for one in near if one.model.id in owned and one.score >= threshold and not one.against]
    return told[0] if len(told) == 1 else None


def _pump_notes(reading: Reading, ranked: Sequence[Match], pumps: Sequence[PumpMatch]) -> list[str]:
    notes = []
    for one in pumps:
        pump, how = one.pump, "has" if one.same_serial else "has, as plates are misread,"
        notes.append(f"pump {pump.tag} at {pump.site.name} {how} this serial number")
        notes += one.notes
    return notes


def _pumps_with_serial(by: Caller, serial: str) -> list[Pump]:
    key = search_key(tidy(serial))
    if len(key) < SHORTEST_SERIAL:
        return []
    return list(
        narrow(Pump.objects.select_related("pump_model__maker", "site"), by)
        .alias(key=nameplate_key(F("serial_number")))
        .filter(key=key)
        .order_by("site_id", "tag", "id")[:MOST_PUMPS]
    )


def _score_pumps(reading: Reading, pumps: Iterable[Pump]) -> list[PumpMatch]:
    found = []
    typed = bool(reading.type_text or reading.maker or reading.lines)
    for pump in pumps:
        same = tokens(pump.serial_number) == tokens(reading.serial)
        serial = 1.0 if same else 0.9
        notes: list[str] = []
        score = serial
        if typed:
            model = score_model(reading, _as_plate_model(pump.pump_model))
            score = SERIAL_WEIGHT * serial + (1 - SERIAL_WEIGHT) * model.score
            if model.against:
                notes.append(
                    f"pump {pump.tag} is a {pump.pump_model.series} {pump.pump_model.designation}, which does not "
                    f"agree with the plate in: {', '.join(model.against)}"
                )
        if not same:
            notes.append(f"{reading.serial} was compared with {pump.serial_number}")
        if reading.year and pump.installed_on and pump.installed_on.year < reading.year:
            notes.append(f"pump {pump.tag} was installed in {pump.installed_on.year}, before the plate's year")
        found.append(PumpMatch(pump, round(score, 3), same, tuple(notes)))
    return sorted(found, key=lambda one: (-one.score, one.pump.tag, str(one.pump.pk)))


def _candidates(reading: Reading, maker_ids: Sequence[Any]) -> list[PumpModel]:
    """Models whose series and size share enough trigrams with the type, or that hold its size. Two queries."""
    texts = [reading.type_text] if reading.type_text else list(reading.lines[:MOST_TEXTS])
    keys, sizes = [], []
    for text in texts:
        sized = parse_size(text)
        if sized is not None:
            sizes.append(search_key(str(sized.size)))
            # What follows the size would only make the text less like a model's.
            text = f"{sized.before or sized.after} {sized.size}"
        keys.append(search_key(tidy(text)))
    keys, sizes = _worth(keys), _worth(sizes)
    if not keys:
        return []
    wanted = Q()
    for key in keys:
        wanted |= Q(key__trigram_similar=key)
    for size in sizes:
        wanted |= Q(key__contains=size)
    alike = [TrigramSimilarity(type_key(), key) for key in keys]
    best = Greatest(*alike) if len(alike) > 1 else alike[0]
    rows: QuerySet[PumpModel] = (
        PumpModel.objects.select_related("maker").alias(key=type_key()).filter(wanted).order_by(best.desc(), "id")
    )
    found = list(rows[:MOST_CANDIDATES])
    if maker_ids:
        found += rows.filter(maker_id__in=maker_ids)[:MOST_CANDIDATES]
    return found


def _worth(keys: Iterable[str]) -> list[str]:
    """Distinct keys long enough to have a trigram of their own."""
    return [one for one in dict.fromkeys(keys) if len(one) >= 3]


def _as_plate_model(row: PumpModel) -> PlateModel:
    return PlateModel(
        id=row.pk,
        code=row.code,
        maker_code=row.maker.code,
        maker=row.maker.name,
        series=row.series,
        designation=row.designation,
        configuration=row.configuration,
        rated_speed_rpm=row.rated_speed_rpm,
        rated_power_kw=row.rated_power_kw,
        shaft_diameter_at_seal_mm=row.shaft_diameter_at_seal_mm,
    )
