"""Head, suction head, power and speed of a pump as they are offered."""

from decimal import Decimal

from assets.calculations.written_numbers import plain
from jobs.calculations.hydraulics import (
    TRIM_LAWS,
    Duty,
    HydraulicsUnknown,
    at_diameter,
    at_speed,
    efficiency,
    head_of_pressure,
    hydraulic_power,
    specific_speed,
    total_head,
    velocity,
)
from jobs.calculations.offered.declared import (
    COMPARED,
    LOCAL_RULES,
    MEMORY,
    PHYSICS,
    Calculation,
    InputWrong,
    Outcome,
    Output,
    Source,
    blames,
    choice,
    of,
    quantity,
    whole,
)
from jobs.calculations.water import SOURCE as WATER_SOURCE
from jobs.calculations.water import water
from jobs.calculations.written_limits import legible

FAMILY = "hydraulics"
# No pipe at a pump is run faster, and no impeller trimmed further (common practice, no source).
_FASTEST_M_S, _LEAST_TRIMMED = Decimal(15), Decimal("0.8")
IAPWS = Source(WATER_SOURCE, "", "saturated water", COMPARED)
ISO_9906 = Source("ISO 9906", "2012", "terms and definitions", MEMORY)
READINGS = "Readings of gauges count at their own height, vented and with steady flow; note where each was taken."
TEMPERATURE = quantity(
    "temperature", "degC", "0.01", "200", "Temperature of the water, where no density is given.", usual="20"
)
DENSITY = quantity("density", "kg/m3", "100", "3000", "Density of the liquid where it is not water.", optional=True)


def density_of(density: Decimal | None, temperature: Decimal) -> Decimal:
    """The density given, or that of water at the temperature."""
    return water(temperature).density_kg_m3 if density is None else density


def _head(
    *,
    flow: Decimal,
    discharge: Decimal,
    suction: Decimal,
    height_difference: Decimal,
    suction_bore: Decimal,
    discharge_bore: Decimal,
    temperature: Decimal,
    density: Decimal | None,
) -> Outcome:
    taken = density_of(density, temperature)
    found = total_head(
        discharge_kpa=discharge,
        suction_kpa=suction,
        height_difference_m=height_difference,
        flow_m3h=flow,
        suction_bore_mm=suction_bore,
        discharge_bore_mm=discharge_bore,
        density_kg_m3=taken,
    )
    words = f"Head {found:.2f} m of the pumped liquid."
    if found < 0:
        words += " The head is below zero: look whether the gauges were exchanged, or one was misread."
    for where, bore in (("suction", suction_bore), ("discharge", discharge_bore)):
        speed = velocity(flow, bore)
        if speed > _FASTEST_M_S:
            words += f" That is {speed:.0f} m/s at the {where}: check flow and bore."
    return Outcome({"head": found, "density": taken}, words)


def _pressure(*, pressure: Decimal, temperature: Decimal, density: Decimal | None) -> Outcome:
    taken = density_of(density, temperature)
    found = head_of_pressure(pressure, taken)
    return Outcome({"head": found, "density": taken}, f"{found:.2f} m of the liquid.")


def _power(
    *, flow: Decimal, head: Decimal, shaft_power: Decimal | None, temperature: Decimal, density: Decimal | None
) -> Outcome:
    taken = density_of(density, temperature)
    hydraulic = hydraulic_power(flow, head, taken)
    share = None
    words = f"{hydraulic:.2f} kW go into the liquid."
    if shaft_power is not None:
        with blames("shaft_power", HydraulicsUnknown):
            share = efficiency(Duty(flow, head, shaft_power), taken)
        words += f" Of {legible(shaft_power)} kW at the shaft that is {share:.1%}."
    values = {"hydraulic_power": hydraulic, "efficiency": None if share is None else 100 * share, "density": taken}
    return Outcome(values, words)


def _speed(*, flow: Decimal, head: Decimal, power: Decimal | None, from_speed: Decimal, to_speed: Decimal) -> Outcome:
    found = at_speed(Duty(flow, head, power), from_speed, to_speed)
    return _duty(found, f"At {legible(to_speed)} rpm")


def _trim(
    *, flow: Decimal, head: Decimal, power: Decimal | None, from_diameter: Decimal, to_diameter: Decimal, law: str
) -> Outcome:
    if to_diameter > from_diameter:
        raise InputWrong("to_diameter", "A trim takes away: the new diameter is larger.", "Give the smaller one.")
    found = at_diameter(Duty(flow, head, power), from_diameter, to_diameter, law)
    told = _duty(found, f"With {legible(to_diameter)} mm ({law})")
    if to_diameter < _LEAST_TRIMMED * from_diameter:
        more = " That takes off more than a fifth, further than either law is trusted."
        return Outcome(told.values, told.sentence + more)
    return told


def _duty(found: Duty, head: str) -> Outcome:
    words = f"{head}: {found.flow_m3h:.1f} m³/h at {found.head_m:.1f} m"
    words += f", {found.power_kw:.2f} kW." if found.power_kw is not None else "."
    return Outcome({"flow": found.flow_m3h, "head": found.head_m, "power": found.power_kw}, words)


def _specific(*, speed: Decimal, flow: Decimal, head: Decimal, stages: Decimal | None) -> Outcome:
    with blames("flow", HydraulicsUnknown):
        found = specific_speed(speed, flow, head / (stages or 1))
    return Outcome(
        {"metric": found.metric, "us": found.us, "type_number": found.type_number},
        f"nq {found.metric:.1f}, Ns {found.us:.0f}, type number {found.type_number:.3f}.",
    )


def _test_pressure(*, allowable: Decimal) -> Outcome:
    found = allowable * Decimal("1.5")
    bar = plain((found / 100).quantize(Decimal("0.01")))
    return Outcome(
        {"test_pressure": found}, f"Test at {plain(round(found, 1))} kPa ({bar} bar) of gauge pressure, with water."
    )


_FLOW = quantity("flow", "m3/h", "0.001", "1000000", "Flow.")
_HEAD = quantity("head", "m", "0.01", "10000", "Head in metres of the pumped liquid.")
_SHAFT_POWER = quantity("power", "kW", "0.001", "100000", "Power at the shaft.", optional=True)
_DUTY_OUTPUTS = (
    Output("flow", "Flow.", "m3/h", 2),
    Output("head", "Head.", "m", 2),
    Output("power", "Power at the shaft, at the same efficiency.", "kW", 3),
)
_ALIKE = "Holds for the same point of the curve; efficiency changes a little with speed and more with a trim."

CALCULATIONS = (
    Calculation(
        name="head-from-gauges",
        title="Head of a pump from two gauges",
        family=FAMILY,
        formula="H = (p2 - p1)/(rho g) + (z2 - z1) + (v2^2 - v1^2)/2g",
        inputs=(
            _FLOW,
            quantity("discharge", "kPa", "-100", "100000", "Gauge pressure at the discharge."),
            quantity("suction", "kPa", "-100", "100000", "Gauge pressure at the suction."),
            quantity("height_difference", "m", "-100", "100", "Discharge gauge above suction gauge.", usual="0"),
            quantity("suction_bore", "mm", "5", "5000", "Bore where the suction gauge sits."),
            quantity("discharge_bore", "mm", "5", "5000", "Bore where the discharge gauge sits."),
            TEMPERATURE,
            DENSITY,
        ),
        outputs=(Output("head", "Total head.", "m", 2), Output("density", "Density that was taken.", "kg/m3", 1)),
        sources=(ISO_9906, IAPWS),
        cautions=(READINGS,),
        example={
            "flow": of("50", "m3/h"),
            "discharge": of("450", "kPa"),
            "suction": of("-30", "kPa"),
            "height_difference": of("0.6", "m"),
            "suction_bore": of("80", "mm"),
            "discharge_bore": of("65", "mm"),
            "density": of("998.2", "kg/m3"),
        },
        perform=_head,
    ),
    Calculation(
        name="pressure-to-head",
        title="Pressure as a height of liquid",
        family=FAMILY,
        formula="h = p/(rho g)",
        inputs=(quantity("pressure", "kPa", "-100", "100000", "Pressure difference."), TEMPERATURE, DENSITY),
        outputs=(Output("head", "Height of the liquid.", "m", 3), Output("density", "Taken.", "kg/m3", 1)),
        sources=(Source("hydrostatics", "", "", PHYSICS), IAPWS),
        cautions=("A head in metres is of the pumped liquid, not of water.",),
        example={"pressure": of("1", "bar")},
        perform=_pressure,
    ),
    Calculation(
        name="hydraulic-power",
        title="Hydraulic power and efficiency",
        family=FAMILY,
        formula="P = rho g Q H; efficiency = P / power at the shaft",
        inputs=(
            _FLOW,
            _HEAD,
            quantity("shaft_power", "kW", "0.001", "100000", "Power at the shaft.", optional=True),
            TEMPERATURE,
            DENSITY,
        ),
        outputs=(
            Output("hydraulic_power", "Power that goes into the liquid.", "kW", 3),
            Output("efficiency", "Of the pump.", "%", 1),
            Output("density", "Density that was taken.", "kg/m3", 1),
        ),
        sources=(ISO_9906, IAPWS),
        cautions=("Power at the shaft is not power at the terminals: the motor's losses come off first.",),
        example={
            "flow": of("100", "m3/h"),
            "head": of("32", "m"),
            "shaft_power": of("11.5", "kW"),
            "density": of("998.2", "kg/m3"),
        },
        perform=_power,
    ),
    Calculation(
        name="another-speed",
        title="A duty at another speed",
        family=FAMILY,
        formula="Q2 = Q1 (n2/n1), H2 = H1 (n2/n1)^2, P2 = P1 (n2/n1)^3",
        inputs=(
            _FLOW,
            _HEAD,
            _SHAFT_POWER,
            quantity("from_speed", "rpm", "1", "100000", "Speed of the readings."),
            quantity("to_speed", "rpm", "1", "100000", "Speed that is asked for."),
        ),
        outputs=_DUTY_OUTPUTS,
        sources=(Source("ISO 9906", "2012", "6.1.2, affinity laws", MEMORY),),
        cautions=(_ALIKE, "A higher speed loads shaft, bearings and motor: ask before it is run."),
        example={
            "flow": of("100", "m3/h"),
            "head": of("32", "m"),
            "power": of("11", "kW"),
            "from_speed": of("1450", "rpm"),
            "to_speed": of("1750", "rpm"),
        },
        perform=_speed,
    ),
    Calculation(
        name="trimmed-impeller",
        title="A duty with a trimmed impeller",
        family=FAMILY,
        formula="small-trim: Q, H, P go with D, D^2, D^3; geometric: with D^3, D^2, D^5",
        inputs=(
            _FLOW,
            _HEAD,
            _SHAFT_POWER,
            quantity("from_diameter", "mm", "10", "3000", "Diameter as it is."),
            quantity("to_diameter", "mm", "10", "3000", "Diameter after the trim."),
            choice("law", TRIM_LAWS, "Which law; they differ, so it is named in the answer.", usual="small-trim"),
        ),
        outputs=_DUTY_OUTPUTS,
        sources=(Source("textbooks of pumps", "", "two laws in use", MEMORY),),
        cautions=(_ALIKE, "Real trims give less than either law: take off half first, then test."),
        example={
            "flow": of("100", "m3/h"),
            "head": of("32", "m"),
            "from_diameter": of("200", "mm"),
            "to_diameter": of("190", "mm"),
        },
        perform=_trim,
    ),
    Calculation(
        name="specific-speed",
        title="Specific speed of an impeller",
        family=FAMILY,
        formula="nq = n sqrt(Q)/H^0.75 of one stage; Ns = 51.64 nq; type number = nq/52.9",
        inputs=(
            quantity("speed", "rpm", "1", "100000", "Speed."),
            _FLOW,
            _HEAD,
            whole("stages", 1, 50, "Stages that share the head.", optional=True),
        ),
        outputs=(
            Output("metric", "nq (rpm, m3/s, m).", "", 1),
            Output("us", "Ns (rpm, US gal/min, ft).", "", 0),
            Output("type_number", "Without dimension.", "", 3),
        ),
        sources=(Source("textbooks of pumps", "", "three habits of one number", MEMORY),),
        cautions=("At the flow of best efficiency; of a double-suction impeller half the flow.",),
        example={"speed": of("2900", "rpm"), "flow": of("100", "m3/h"), "head": of("32", "m")},
        perform=_specific,
    ),
    Calculation(
        name="hydrostatic-test-pressure",
        title="Pressure of a hydrostatic test",
        family=FAMILY,
        formula="1.5 x maximum allowable working pressure",
        inputs=(quantity("allowable", "kPa", "1", "100000", "Maximum allowable working pressure of the casing."),),
        outputs=(Output("test_pressure", "Gauge pressure of the test.", "kPa", 1),),
        sources=(Source("API 610", "", "1.5 times, held 30 min or as the contract says", MEMORY),),
        cautions=(
            "Use water, never air: bleed all air, raise in steps, stay behind cover, knock no part under pressure.",
            "How long it is held is for the contract to say: 30 min and 10 min are both in use, and by wall thickness.",
            "Nothing may leak through the wall or a joint; what seal or packing lets by is judged apart.",
            "The lowest-rated part rules: gaskets, seals and gauges may bear less than the casing.",
            LOCAL_RULES,
        ),
        example={"allowable": of("16", "bar")},
        perform=_test_pressure,
    ),
)
