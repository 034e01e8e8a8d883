"""Measuring instruments by site. One dial indicator of the heat plant is overdue for calibration."""

from services.demo.operator.days import Days

# type: range from, to, unit, resolution, expanded uncertainty (k = 2)
TYPES = {
    "dial-indicator": ("-5", "5", "mm", "0.001", "0.003"),
    "outside-micrometer": ("25", "50", "mm", "0.001", "0.002"),
    "outside-micrometer-75": ("50", "75", "mm", "0.001", "0.003"),
    "feeler-gauge": ("0.05", "2", "mm", "0.01", "0.01"),
    "thermometer": ("-20", "60", "degC", "0.1", "0.5"),
    "surface-thermometer": ("-20", "200", "degC", "0.1", "1.5"),
    "pressure-gauge": ("0", "16", "bar", "0.01", "0.03"),
    "torque-wrench": ("10", "200", "N*m", "0.5", "2"),
    "vibration-meter": ("0.1", "50", "mm/s", "0.01", "0.15"),
    # In light bands: half a band can be told.
    "optical-flat": ("0", "20", "piece", "0.5", "0.2"),
}
# number, type, site, days since calibration, days until it falls due
KEPT = (
    ("DI-201", "dial-indicator", "heat-plant", 110, 255),
    ("DI-202", "dial-indicator", "heat-plant", 377, -12),
    ("OM-211", "outside-micrometer", "heat-plant", 150, 215),
    ("OM-212", "outside-micrometer-75", "heat-plant", 150, 215),
    ("FG-221", "feeler-gauge", "heat-plant", 300, 430),
    ("TH-231", "thermometer", "heat-plant", 90, 275),
    ("ST-232", "surface-thermometer", "heat-plant", 90, 275),
    ("PG-241", "pressure-gauge", "heat-plant", 60, 305),
    ("TW-251", "torque-wrench", "heat-plant", 130, 235),
    ("VM-261", "vibration-meter", "heat-plant", 200, 530),
    ("OF-271", "optical-flat", "heat-plant", 400, 1426),
    ("DI-301", "dial-indicator", "tarn-waterworks", 60, 305),
    ("OM-311", "outside-micrometer-75", "tarn-waterworks", 80, 285),
    ("FG-321", "feeler-gauge", "tarn-waterworks", 200, 530),
    ("TH-331", "thermometer", "tarn-waterworks", 200, 165),
    ("ST-332", "surface-thermometer", "tarn-waterworks", 200, 165),
    ("PG-341", "pressure-gauge", "tarn-waterworks", 330, 35),
    ("TW-351", "torque-wrench", "tarn-waterworks", 200, 165),
    ("VM-361", "vibration-meter", "tarn-waterworks", 500, 230),
    ("OF-371", "optical-flat", "tarn-waterworks", 400, 1426),
    ("DI-401", "dial-indicator", "holm-waterworks", 340, 25),
    ("OM-411", "outside-micrometer", "holm-waterworks", 340, 25),
    ("OM-412", "outside-micrometer-75", "holm-waterworks", 340, 25),
    ("FG-421", "feeler-gauge", "holm-waterworks", 200, 530),
    ("TH-431", "thermometer", "holm-waterworks", 120, 245),
    ("ST-432", "surface-thermometer", "holm-waterworks", 120, 245),
    ("PG-441", "pressure-gauge", "holm-waterworks", 120, 245),
    ("TW-451", "torque-wrench", "holm-waterworks", 400, -35),
    ("VM-461", "vibration-meter", "holm-waterworks", 100, 630),
    ("OF-471", "optical-flat", "holm-waterworks", 400, 1426),
    ("DI-501", "dial-indicator", "dairy", 45, 320),
    ("FG-521", "feeler-gauge", "dairy", 45, 685),
    ("ST-532", "surface-thermometer", "dairy", 45, 320),
    ("PG-541", "pressure-gauge", "dairy", 45, 320),
    ("TW-551", "torque-wrench", "dairy", 45, 320),
    ("VM-561", "vibration-meter", "dairy", 300, 430),
    ("OF-571", "optical-flat", "dairy", 400, 1426),
    ("DI-601", "dial-indicator", "fish-hall", 210, 155),
    ("OM-611", "outside-micrometer", "fish-hall", 210, 155),
    ("FG-621", "feeler-gauge", "fish-hall", 210, 520),
    ("TH-631", "thermometer", "fish-hall", 210, 155),
    ("ST-632", "surface-thermometer", "fish-hall", 210, 155),
    ("PG-641", "pressure-gauge", "fish-hall", 210, 155),
    ("TW-651", "torque-wrench", "fish-hall", 210, 155),
    ("VM-661", "vibration-meter", "fish-hall", 210, 520),
    ("OF-671", "optical-flat", "fish-hall", 400, 1426),
)
COLUMNS = "number,type,site,range_from,range_to,unit,resolution,expanded_uncertainty,calibrated_on,calibration_due"


def instrument_rows(days: Days) -> list[tuple[str, ...]]:
    """Rows of the file of instruments."""
    found: list[tuple[str, ...]] = []
    for number, kind, site, since, until in KEPT:
        low, high, unit, resolution, uncertainty = TYPES[kind]
        found.append(
            (number, type_of(kind), site, low, high, unit, resolution, uncertainty,
             days.off(-since).isoformat(), days.off(until).isoformat())
        )  # fmt: skip
    return found


def type_of(kind: str) -> str:
    """The type as procedures name it: micrometers of two ranges are of one type."""
    return kind.removesuffix("-75")


def instrument_at(site: str, kind: str, reading: float) -> str:
    """An instrument of this type at the site whose range holds the reading. Raises `LookupError`."""
    for number, one, where, _, _ in KEPT:
        low, high = float(TYPES[one][0]), float(TYPES[one][1])
        if where == site and type_of(one) == kind and low <= reading <= high and number != "DI-202":
            return number
    raise LookupError(f"no {kind} for {reading} at {site}")
