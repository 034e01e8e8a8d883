"""Judgements that are only tried: of a characteristic in a job or one described. Nothing is kept."""

import datetime
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assets.access import narrow
from assets.calculations.units import known_units
from jobs.calculations.evaluation import Tool, check_characteristic
from jobs.calculations.evaluation_rules import SetUpUnusable, reads_with_two
from jobs.models import JobCharacteristic
from jobs.queries.instruments import instruments
from jobs.queries.judging import Asked, judge_readings, tool_of, unit_as_kept
from jobs.refusals import InstrumentUnfit
from services.api.models import as_uuid
from services.api.refusals import InvalidValue, NotThere
from services.identity.callers import Caller


def tried_judgement(
    *,
    by: Caller,
    today: datetime.date,
    readings: Any,
    unit: str,
    given: Mapping[str, Any],
    characteristic: uuid.UUID | None = None,
    described_characteristic: Mapping[str, Any] | None = None,
    instrument: uuid.UUID | None = None,
    described_instrument: Mapping[str, Any] | None = None,
    second_instrument: uuid.UUID | None = None,
    described_second_instrument: Mapping[str, Any] | None = None,
    measured_on: datetime.date | None = None,
) -> dict[str, Any]:
    """The verdict as it would be recorded, with the questions that the readings raise. At most three statements.

    Raises `NotThere`, `InvalidValue`, `InstrumentUnfit`, `ReadingUnusable`.
    """
    _one_of("characteristic", characteristic, described_characteristic)
    _one_of("instrument", instrument, described_instrument)
    if characteristic is not None:
        asked = asked_in_job(by, characteristic)
    else:
        asked = described_asked(described_characteristic or {})
    first = instrument_or_described(by, instrument, described_instrument, "instrument")
    second = instrument_or_described(by, second_instrument, described_second_instrument, "second_instrument")
    if second is not None and not reads_with_two(asked.rule):
        raise InvalidValue(
            f"The rule {asked.rule} reads with one instrument.", remedy="Leave it out.", pointer="#/second_instrument"
        )
    day = measured_on or today
    found = [one for one in (first, second) if one is not None]
    overdue = [one.tool.number for one in found if one.calibration_due is not None and one.calibration_due < day]
    judged = judge_readings(
        asked, tools=[one.tool for one in found], overdue=overdue, readings=readings, unit=unit, given=given
    )
    return {
        **judged.columns,
        "guard_band": judged.verdict.guard_band,
        "questions": [{"pointer": one.pointer, "sentence": one.sentence} for one in judged.doubts],
    }


def _one_of(name: str, known: Any, described: Any) -> None:
    if (known is None) == (described is None):
        raise InvalidValue(f"Send either {name} or described_{name}.", remedy="One of the two.", pointer=f"#/{name}")


@dataclass(frozen=True)
class DescribedTool:
    """An instrument that is not registered; ``calibration_due`` None: taken as in calibration."""

    tool: Tool
    calibration_due: datetime.date | None


def asked_in_job(by: Caller, job_characteristic_id: uuid.UUID) -> Asked:
    """A characteristic of a job at a granted site. One statement. Raises `NotThere`."""
    found = (
        narrow(JobCharacteristic.objects.all(), by, path="job_step__job__site_id")
        .select_related("characteristic")
        .filter(pk=as_uuid(job_characteristic_id))
        .first()
    )
    if found is None:
        raise NotThere("The characteristic is not here.", remedy="Read the job's steps; they name its id.")
    return Asked.of(found)


def described_asked(described: Mapping[str, Any]) -> Asked:
    """A characteristic that is described instead. Raises `InvalidValue` naming the field."""
    set_up = described.get("set_up") or {}
    lower, upper, unit = described.get("lower"), described.get("upper"), unit_as_kept(str(described["unit"]))
    if unit not in known_units():
        raise InvalidValue(
            f"{unit!r} is no unit known here.",
            remedy=f"Known: {', '.join(known_units())}.",
            pointer="#/described_characteristic/unit",
        )
    if lower is not None and upper is not None and lower > upper:
        raise InvalidValue(
            f"The lower limit {lower} lies above the upper limit {upper}.",
            remedy="Exchange them.",
            pointer="#/described_characteristic/lower",
        )
    try:
        check_characteristic(described["rule"], described["readings"], set_up, unit)
    except SetUpUnusable as error:
        place = error.place if error.place in {"rule", "readings", "unit"} else f"set_up/{error.place}"
        raise InvalidValue(
            str(error), remedy="See the rules of evaluation.", pointer=f"#/described_characteristic/{place}"
        ) from error
    return Asked(
        described.get("name") or "The characteristic",
        described["rule"],
        described["readings"],
        set_up,
        unit,
        lower,
        upper,
        described["decision_rule"],
    )


def instrument_or_described(
    by: Caller, instrument_id: uuid.UUID | None, described: Mapping[str, Any] | None, field: str
) -> DescribedTool | None:
    """A registered instrument at a granted site, or one that is described. One statement for a registered one."""
    if instrument_id is not None:
        found = instruments(by=by).filter(pk=instrument_id).first()
        if found is None:
            raise InstrumentUnfit(
                "There is no such instrument at your sites.",
                remedy="Choose one from GET /instruments.",
                pointer=f"#/{field}",
            )
        return DescribedTool(tool_of(found), found.calibration_due)
    if described is None:
        return None
    figures = {**described, "unit": unit_as_kept(str(described["unit"]))}
    due = figures.pop("calibration_due", None)
    where = f"#/described_{field}"
    if figures["unit"] not in known_units():
        raise InvalidValue(
            f"{figures['unit']!r} is no unit known here.",
            remedy=f"Known: {', '.join(known_units())}.",
            pointer=f"{where}/unit",
        )
    if figures["range_from"] >= figures["range_to"]:
        raise InvalidValue(
            "The range ends before it begins.", remedy="Give the lower end in range_from.", pointer=f"{where}/range_to"
        )
    number = figures.pop("number", None) or "the instrument"
    return DescribedTool(Tool(number=number, **figures), due)
