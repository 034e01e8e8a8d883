"""Kinds of files that assets take."""

from functools import partial

from assets.calculations.written_units import convert_written
from assets.models import Configuration, Criticality, PumpState
from assets.operations.pump_loads import load_pumps, load_running_hours
from assets.operations.pump_model_loads import load_pump_models, load_wear_positions
from assets.operations.site_loads import load_bins, load_fluids, load_makers, load_sites
from services.api.loading import Column, LoadKind, declare_load

# A number that names its unit, or whose unit a mapping names, is converted; the places are those that are kept.
Measured = partial(Column, type="decimal", convert=convert_written)

declare_load(
    LoadKind(
        name="sites",
        load=load_sites,
        help="Sites keyed by code.",
        key=("code",),
        columns=(
            Column("code", required=True),
            Column("name", required=True),
            Column("time_zone", required=True, help="As in the tz database, such as Europe/Oslo."),
            Column("central_store", "yes_no"),
            Column("latitude", "decimal", help="Degrees, WGS 84, north positive; left as it is if empty."),
            Column("longitude", "decimal", help="Degrees, WGS 84, east positive."),
        ),
    ),
    LoadKind(
        name="bins",
        load=load_bins,
        help="Bins keyed by site and code.",
        key=("site", "code"),
        columns=(
            Column("site", required=True, help="The site's code."),
            Column("code", required=True),
            Column("default", "yes_no"),
            Column("name"),
        ),
    ),
    LoadKind(
        name="makers",
        load=load_makers,
        help="Makers of pumps and parts keyed by code.",
        key=("code",),
        columns=(Column("code", required=True), Column("name", required=True)),
    ),
    LoadKind(
        name="fluids",
        load=load_fluids,
        help="Fluids keyed by code.",
        key=("code",),
        columns=(
            Column("code", required=True),
            Column("name", required=True),
            Column("family", required=True, help="A family of the material tables; GET /fluid-families."),
            Column("hazard"),
        ),
    ),
    LoadKind(
        name="pump-models",
        load=load_pump_models,
        help="Pump models keyed by external id.",
        key=("external_id",),
        columns=(
            Column("external_id", required=True),
            Column("maker", required=True, help="The maker's code."),
            Column("series", required=True),
            Column("designation", required=True, help="Size, in the ISO 2858 or EN 733 form where it applies."),
            Column("configuration", "choice", required=True, choices=tuple(Configuration.values)),
            Measured("shaft_diameter_at_seal_mm", required=True, unit="mm", places=3),
            Measured("rated_speed_rpm", required=True, unit="rpm", places=1),
            Measured("rated_power_kw", required=True, unit="kW", places=3),
        ),
    ),
    LoadKind(
        name="wear-positions",
        load=load_wear_positions,
        help="What an overhaul of a model renews, one row a position.",
        key=("model", "role", "serial_from", "serial_to", "variant", "part_number"),
        columns=(
            Column("model", required=True, help="The pump model's external id."),
            Column("role", required=True, help="A position role; GET /position-roles."),
            Column("quantity", "decimal", required=True, places=3),
            Column("mandatory", "yes_no", help="yes if left out."),
            Column("serial_from"),
            Column("serial_to"),
            Column("variant", help="As-built conditions: name=value, separated by semicolons."),
            Column("part_number"),
            Column("category"),
            Column("specification", help="In the form of its category, such as 226 EPDM 70."),
        ),
    ),
    LoadKind(
        name="pumps",
        load=load_pumps,
        help="Pumps keyed by external id.",
        key=("external_id",),
        columns=(
            Column("external_id", required=True),
            Column("tag", required=True),
            Column("site", required=True, help="The site's code."),
            Column("model", required=True, help="The pump model's external id."),
            Column("serial_number", required=True),
            Column("elastomer", help="ISO 1629."),
            Column("seal_faces"),
            Measured("impeller_diameter_mm", unit="mm", places=3),
            Column("fluid", required=True, help="The fluid's code."),
            Measured("temperature_min_c", required=True, unit="degC", places=2),
            Measured("temperature_max_c", required=True, unit="degC", places=2),
            Column("criticality", "choice", required=True, choices=tuple(Criticality.values)),
            Column("state", "choice", choices=tuple(PumpState.values)),
            Column("installed_on", "date"),
        ),
    ),
    LoadKind(
        name="running-hours",
        load=load_running_hours,
        help="Hour readings keyed by pump and time.",
        key=("pump", "read_at"),
        columns=(
            Column("pump", required=True, help="The pump's external id."),
            Column("read_at", "datetime", required=True),
            Measured("hours", required=True, unit="h", places=1),
        ),
    ),
)
