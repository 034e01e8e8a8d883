"""Mounting, life and clearance of bearings as they are offered."""

from decimal import Decimal
from typing import Any

from assets.calculations.bearing_clearances import CLASSES, GROUPS, clearance_um
from assets.calculations.bearing_dimensions import CYLINDRICAL, DEEP_GROOVE
from assets.calculations.written_numbers import plain
from jobs.calculations.bearing_heating import CAUTIONS as HEATING_CAUTIONS
from jobs.calculations.bearing_heating import FORMULA as HEATING_FORMULA
from jobs.calculations.bearing_heating import NO_OIL_BATH, heating_advice
from jobs.calculations.bearing_life import (
    EXPONENTS,
    RELIABILITY_FACTORS,
    SLOPES,
    LifeUnknown,
    equivalent_load,
    life_of_all,
    rating_life,
    static_safety,
)
from jobs.calculations.limits_and_fits import SizeOutsideTable
from jobs.calculations.offered.declared import (
    LOCAL_RULES,
    MEMORY,
    PRACTICE,
    RULE_OF_THE_SHOP,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    blames,
    choice,
    flag,
    number,
    of,
    quantity,
    rows,
    whole,
)

FAMILY = "bearings"
_CATALOGUE = "C, C0, X and Y are those of the bearing that is fitted, from its catalogue; makers differ."
_RATING_ONLY = (
    "A rating life knows neither dirt, nor water in the oil, nor a wrong fit: most bearings of pumps fail of those."
)
# A century and more of running (common practice, no source).
_BEYOND_BELIEF_HOURS = 1_000_000
_LIGHT = " At more than 1 000 000 h fatigue is not what ends it, and a bearing loaded so lightly may skid."
_TARGETS = Source("API 610 and ISO 5199", "", "25 000 h at rated and 16 000 h at worst load; 17 500 h", MEMORY)


def _heating(*, bore: Decimal, shaft: Decimal, room_temperature: Decimal, clearance: Decimal, sealed: bool) -> Outcome:
    if not Decimal("0.95") * bore <= shaft <= Decimal("1.05") * bore:
        raise InputWrong("shaft", "The shaft does not belong to this bore.", "Give both as measured, at 20 °C.")
    with blames("bore", SizeOutsideTable):
        found = heating_advice(
            bore_mm=bore,
            shaft_diameter_mm=shaft,
            room_temperature_c=room_temperature,
            extra_clearance_mm=clearance,
            sealed=sealed,
        )
    return Outcome(
        {
            "interference": found.interference_mm,
            "temperature_rise": found.temperature_rise_k,
            "target": found.target_c if found.within_ceiling and found.interference_mm > 0 else None,
            "warn_above": found.warn_above_c,
            "ceiling": found.ceiling_c,
            "within_ceiling": found.within_ceiling,
        },
        found.sentence,
        cautions=(NO_OIL_BATH,) if sealed else (),
    )


def _life(
    *,
    kind: str,
    rating: Decimal,
    radial_load: Decimal,
    axial_load: Decimal,
    x: Decimal,
    y: Decimal,
    speed: Decimal,
    reliability: Decimal | None,
) -> Outcome:
    load = equivalent_load(radial_kn=radial_load, axial_kn=axial_load, x=x, y=y)
    percent = 90 if reliability is None else int(reliability)
    with blames("reliability" if percent not in RELIABILITY_FACTORS else "radial_load", LifeUnknown):
        found = rating_life(rating_kn=rating, load_kn=load, speed_rpm=speed, kind=kind, reliability_percent=percent)
    reached = " and ".join(
        name
        for name, hours in (("17 500 h (ISO 5199)", 17_500), ("25 000 h (API 610)", 25_000))
        if found.l10_hours >= hours
    )
    return Outcome(
        {
            "equivalent_load": found.equivalent_load_kn,
            "basic_rating_life": found.l10_million,
            "basic_rating_life_hours": found.l10_hours,
            "reliability_factor": found.reliability_factor,
            "life_hours": found.life_hours,
        },
        f"Nine of ten such bearings reach {found.l10_hours:.0f} h"
        + (f"; {percent} of 100 reach {found.life_hours:.0f} h. " if percent != 90 else ". ")
        + (f"Long enough for {reached}." if reached else "Below the 17 500 h of ISO 5199.")
        + (_LIGHT if found.life_hours > _BEYOND_BELIEF_HOURS else ""),
    )


def _together(*, kind: str, slope: Decimal | None, lives: list[dict[str, Any]]) -> Outcome:
    taken = SLOPES[kind] if slope is None else slope
    with blames("lives", LifeUnknown):
        found = life_of_all([row["life"] for row in lives], taken)
    return Outcome(
        {"life": found, "slope": taken},
        f"{len(lives)} bearings together last {found:.0f} h until the first fails, at the same reliability.",
    )


def _static(*, rating: Decimal, radial_load: Decimal, axial_load: Decimal, x0: Decimal, y0: Decimal) -> Outcome:
    with blames("radial_load", LifeUnknown):
        found = static_safety(rating_kn=rating, radial_kn=radial_load, axial_kn=axial_load, x0=x0, y0=y0)
    usual = (
        "enough for quiet running"
        if found.safety >= 2
        else "enough for normal running"
        if found.safety >= 1
        else "too little, the raceways are dented"
    )
    return Outcome(
        {"equivalent_load": found.equivalent_load_kn, "safety": found.safety},
        f"Static safety {found.safety:.2f}: {usual}. Usual are 1 for normal, 1.5 for shock and 2 for quiet running.",
    )


_BEARING_KINDS = {"deep-groove-ball": DEEP_GROOVE, "cylindrical-roller": CYLINDRICAL}


def _clearance(*, kind: str, bore: Decimal, group: str, measured: Decimal | None) -> Outcome:
    found = clearance_um(_BEARING_KINDS[kind], bore, group)
    if found is None:
        raise InputWrong("bore", f"The table here has no {_BEARING_KINDS[kind]} of {bore:f} mm.", "It reaches 120 mm.")
    least, greatest = (Decimal(one) for one in found)
    words = f"{GROUPS[group]}: {least} to {greatest} µm before mounting; a tight seat takes part of it away."
    inside = None
    if measured is not None:
        inside = least <= measured <= greatest
        words += f" The measured {plain(measured)} µm lie {'inside' if inside else 'outside'}."
    return Outcome({"least": least, "greatest": greatest, "inside": inside}, words[0].upper() + words[1:])


_KIND = choice("kind", tuple(EXPONENTS), "Ball bearing or roller bearing.")
_RATING = quantity("rating", "kN", "0.01", "100000", "Dynamic load rating C of the bearing fitted.")
_RADIAL = quantity("radial_load", "kN", "0", "100000", "Radial load.")
_AXIAL = quantity("axial_load", "kN", "0", "100000", "Axial load.", usual="0")

CALCULATIONS = (
    Calculation(
        name="bearing-heating",
        title="Temperature to heat a bearing to for mounting",
        family=FAMILY,
        formula=HEATING_FORMULA,
        inputs=(
            quantity("bore", "mm", "0.6", "1000", "Nominal bore of the bearing."),
            quantity("shaft", "mm", "0.6", "1050", "Shaft as measured."),
            quantity("room_temperature", "degC", "-30", "60", "Temperature of shaft and room."),
            quantity("clearance", "mm", "0", "0.2", "Clearance to slide with.", usual="0"),
            flag("sealed", "Whether the bearing is sealed or greased for life."),
        ),
        outputs=(
            Output("interference", "Shaft less the smallest bore; negative is clearance.", "mm", 4),
            Output("temperature_rise", "Above shaft and room.", "K", 1),
            Output("target", "Temperature to heat to; left out where it must not be heated.", "degC", 1),
            Output("warn_above", "Above this, check the seat first.", "degC", 0),
            Output("ceiling", "Never above this.", "degC", 0),
            Output("within_ceiling", "Whether it may be heated so far."),
        ),
        sources=(
            Source(
                "DIN 7190-1", "2017", "joining temperature of the outer part; linear expansion, 12e-6 per K", MEMORY
            ),
            Source("ISO 492", "2014", "normal class, mean bore", MEMORY),
            Source("ceilings of 80, 110 and 120 degC", "", "", PRACTICE),
        ),
        cautions=HEATING_CAUTIONS,
        example={
            "bore": of("50", "mm"),
            "shaft": of("50.025", "mm"),
            "room_temperature": of("20", "degC"),
            "clearance": of("0", "mm"),
            "sealed": False,
        },
        perform=_heating,
    ),
    Calculation(
        name="bearing-life",
        title="Basic rating life of a rolling bearing",
        family=FAMILY,
        formula="P = X Fr + Y Fa, not less than Fr; L10 = (C/P)^p, p = 3 ball, 10/3 roller; "
        "L10h = 10^6 L10 / (60 n); Ln = a1 L10",
        inputs=(
            _KIND,
            _RATING,
            _RADIAL,
            _AXIAL,
            number("x", "0", "10", "Factor X of the radial load; 1 where Fa/Fr is not above e.", usual="1"),
            number("y", "0", "10", "Factor Y of the axial load; 0 where Fa/Fr is not above e.", usual="0"),
            quantity("speed", "rpm", "0.1", "200000", "Speed."),
            whole("reliability", 90, 99, "Per cent that reach the life: 90, or 95 to 99.", optional=True),
        ),
        outputs=(
            Output("equivalent_load", "Dynamic equivalent load P.", "kN", 3),
            Output("basic_rating_life", "L10 in millions of revolutions.", "", 1),
            Output("basic_rating_life_hours", "L10 in hours.", "h", 1),
            Output("reliability_factor", "a1.", "", 2),
            Output("life_hours", "Life at the reliability asked for.", "h", 1),
        ),
        sources=(
            Source(
                "ISO 281",
                "2007",
                "5.2, 5.3, 7.2, 7.3 and table 12 (in the edition of 1990 a1 was 0.62 at 95 %)",
                MEMORY,
            ),
            _TARGETS,
        ),
        cautions=(_CATALOGUE, _RATING_ONLY, LOCAL_RULES),
        example={
            "kind": "ball",
            "rating": of("25.5", "kN"),
            "radial_load": of("3.0", "kN"),
            "axial_load": of("1.2", "kN"),
            "x": "0.56",
            "y": "1.5",
            "speed": of("2950", "rpm"),
        },
        perform=_life,
    ),
    Calculation(
        name="life-of-bearings-together",
        title="Life of several bearings on one shaft",
        family=FAMILY,
        formula="L = (sum of Li^-e)^(-1/e), e = 10/9 ball, 9/8 roller",
        inputs=(
            _KIND,
            number("slope", "0.5", "5", "Slope e where another than the usual one is wanted.", optional=True),
            rows(
                "lives",
                (quantity("life", "h", "1", "10000000", "Life of one bearing, all at the same reliability."),),
                2,
                20,
                "Lives of the bearings.",
            ),
        ),
        outputs=(
            Output("life", "Hours until the first of them fails.", "h", 0),
            Output("slope", "The slope that was taken.", "", 3),
        ),
        sources=(Source("Lundberg and Palmgren", "1947", "product of the survival functions, slope e", MEMORY),),
        cautions=(_RATING_ONLY, "Other texts take a slope of 1.5, which tells a longer life: say which was taken."),
        example={"kind": "ball", "lives": [{"life": of("40000", "h")}, {"life": of("60000", "h")}]},
        perform=_together,
    ),
    Calculation(
        name="bearing-static-safety",
        title="Static safety of a bearing",
        family=FAMILY,
        formula="P0 = X0 Fr + Y0 Fa, not less than Fr; s0 = C0 / P0",
        inputs=(
            quantity("rating", "kN", "0.01", "100000", "Static load rating C0 of the bearing fitted."),
            _RADIAL,
            _AXIAL,
            number("x0", "0", "10", "Factor X0; 0.6 of a single-row deep groove bearing.", usual="0.6"),
            number("y0", "0", "10", "Factor Y0; 0.5 of a single-row deep groove bearing.", usual="0.5"),
        ),
        outputs=(
            Output("equivalent_load", "Static equivalent load P0.", "kN", 3),
            Output("safety", "Static safety factor s0.", "", 2),
        ),
        sources=(Source("ISO 76", "2006", "5.2, factors of table 2", MEMORY), RULE_OF_THE_SHOP),
        cautions=(_CATALOGUE, LOCAL_RULES),
        example={"rating": of("24", "kN"), "radial_load": of("3", "kN"), "axial_load": of("2", "kN")},
        perform=_static,
    ),
    Calculation(
        name="bearing-clearance",
        title="Radial internal clearance of a bearing before mounting",
        family=FAMILY,
        formula="looked up by kind, bore and group",
        inputs=(
            choice("kind", tuple(_BEARING_KINDS), "Kind of bearing, with cylindrical bore."),
            quantity("bore", "mm", "6", "120", "Bore."),
            choice("group", CLASSES, "Group of clearance; CN where the designation says nothing.", usual="CN"),
            quantity("measured", "um", "0", "1000", "Clearance as measured, without load.", optional=True),
        ),
        outputs=(
            Output("least", "Least radial clearance.", "um", 0),
            Output("greatest", "Greatest radial clearance.", "um", 0),
            Output("inside", "Whether the measured clearance lies inside."),
        ),
        sources=(Source("ISO 5753-1", "2009", "tables 1 and 4", MEMORY),),
        cautions=("A seat with interference takes clearance away: never judge a mounted bearing by this table.",),
        example={"kind": "deep-groove-ball", "bore": of("40", "mm"), "group": "C3"},
        perform=_clearance,
    ),
)
