"""Words that stand on every paper of a job, and facts about its pump as they are printed."""

import datetime
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from jobs.calculations.printed_quantities import System, amount, span

SECTIONS = {
    "make-safe": "Make safe",
    "dismantle": "Dismantle",
    "clean-and-inspect": "Clean and inspect",
    "assemble": "Assemble",
    "close-up": "Close up",
    "test": "Test",
}
SAFETY = (
    ("For trained and authorised people. The pump maker's instructions, site rules, permits to work and local law come"
    " before this sheet; where they disagree, stop and ask."),
    ("Make safe first, on site: isolate every source of energy, lock and tag it, prove it dead, relieve pressure,"
    " drain, let cool. No later step begins before that."),
    "Terminal boxes, lifting gear, hot work, confined spaces and pressure systems are for people licensed for them.",
    "Know what was pumped: wear what its safety data sheet asks for, and catch what runs out.",
    "Guards are back in place before anything turns. Whoever sees a danger stops the work.",
)  # fmt: skip
FOOT = "The maker's instructions, site rules, permits and local law come before this paper."
RECORD_WORDS = (
    "This record says what was measured, fitted and decided, by whom and when. It replaces no inspection that the "
    "maker, an insurer or local law asks for. A verdict holds for the values as measured, with their uncertainty, on "
    "the day they were measured."
)


def words(code: Any) -> str:
    """A code as words: *not-applicable* is *not applicable*."""
    return str(code or "").replace("-", " ")


CONFIGURATIONS = {
    "close-coupled": "close-coupled",
    "long-coupled-back-pull-out": "long-coupled back pull-out",
    "in-line": "in-line",
    "between-bearings": "between bearings",
}


def figure(value: Any) -> str:
    """A quantity without idle zeros."""
    return "" if value is None else f"{Decimal(value).normalize():f}"


def day(value: datetime.date | datetime.datetime | None) -> str:
    """2 December 2026; nothing where there is none."""
    return "" if value is None else f"{value.day} {value:%B %Y}"


def moment(value: datetime.datetime | None, zone: str) -> str:
    """2026-12-02 14:05, in the site's time zone."""
    if value is None:
        return ""
    try:
        return f"{value.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"
    except ZoneInfoNotFoundError:
        return f"{value.astimezone(datetime.UTC):%Y-%m-%d %H:%M} UTC"


def _built(key: str, value: Any, system: System) -> str:
    """A figure of the pump as built; a name that ends in its unit says it behind the figure."""
    name, _, unit = key.rpartition("_")
    try:
        if unit == "mm" and name:
            return f"{name.replace('_', ' ')} {amount(Decimal(str(value)), 'mm', system)}"
    except InvalidOperation:
        pass
    return f"{key.replace('_', ' ')} {value}"


def facts(job: Mapping[str, Any], system: System) -> list[list[str]]:
    """What the first page tells of job, pump, kit and procedure: (label, text)."""
    low, high = job["pump_temperature_min_c"], job["pump_temperature_max_c"]
    variant = ", ".join(_built(key, value, system) for key, value in sorted((job["pump_variant"] or {}).items()))
    configuration = CONFIGURATIONS.get(job["model_configuration"], words(job["model_configuration"]))
    shaft = amount(job["model_shaft_diameter_at_seal_mm"], "mm", system)
    power = amount(job["model_rated_power_kw"], "kW", system)
    until = "" if job["planned_end"] == job["planned_start"] else f" to {day(job['planned_end'])}"
    found = [
        ("Pump", f"{job['pump_tag']}, serial {job['pump_serial_number']}"),
        (
            "Model",
            f"{job['maker']} {job['model_series']} {job['model_designation']}, {configuration}",
        ),
        ("Site", f"{job['site_name']} ({job['site_code']})"),
        ("Criticality", words(job["pump_criticality"])),
        ("Fluid", f"{job['fluid']}, {span(low, high, 'degC', system)}"),
        ("Hazard", job["hazard"] or "none is registered: ask what was pumped"),
        ("Rated", f"{figure(job['model_rated_speed_rpm'])} rpm, {power}, shaft {shaft} at the seal"),
        ("As built", variant or "not registered"),
        ("Kit", f"{job['kit_number']} {job['kit_revision']}, {job['kit_name']}"),
        ("Procedure", f"{job['procedure_code']} revision {job['revision_revision']}, {job['procedure_title']}"),
        ("Planned", f"{day(job['planned_start'])}{until}"),
        ("Fitter", job["assignee_name"] or "not yet named"),
    ]
    return [[label, str(text)] for label, text in found]


def never_below_zero(asked: Mapping[str, Any]) -> bool:
    """Whether a value is of both planes of an alignment together, so that a limit below zero tells nothing."""
    judged = str((asked.get("set_up") or {}).get("judged") or "offset")
    return asked.get("rule") in {"rim-and-face", "reverse-indicator"} and judged in {"offset", "angularity"}
