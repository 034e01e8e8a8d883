"""Kinds of files that jobs take."""

from jobs.operations.history_loads import load_past_jobs, load_past_measurements
from jobs.operations.instrument_loads import load_instruments
from jobs.operations.procedure_loads import load_procedures
from services.api.loading import Column, LoadKind, declare_load

declare_load(
    LoadKind(
        name="instruments",
        load=load_instruments,
        help="Measuring instruments with their certificates, keyed by number.",
        key=("number",),
        columns=(
            Column("number", required=True),
            Column("type", required=True, help="As procedures name it, such as dial-indicator."),
            Column("site", required=True, help="The site's code."),
            Column("range_from", "decimal", required=True),
            Column("range_to", "decimal", required=True),
            Column("unit", required=True),
            Column("resolution", "decimal", required=True),
            Column("expanded_uncertainty", "decimal", required=True, help="Of the certificate, k = 2, in the unit."),
            Column("calibrated_on", "date", required=True),
            Column("calibration_due", "date", required=True),
        ),
    ),
    LoadKind(
        name="procedures",
        load=load_procedures,
        accepts="document",
        help="One procedure revision a document, with its sections, steps and characteristics; loaded as a draft.",
    ),
    LoadKind(
        name="past-jobs",
        load=load_past_jobs,
        help="Overhauls done before, keyed by number; their kits' parts become the pumps' history.",
        key=("number",),
        columns=(
            Column("number", required=True),
            Column("pump", required=True, help="The pump's external id."),
            Column("procedure", required=True, help="The procedure's code."),
            Column("kit", required=True),
            Column("kit_revision", required=True),
            Column("lot"),
            Column("started_at", "datetime", required=True),
            Column("finished_at", "datetime", required=True),
            Column("fitter", required=True, help="A login."),
            Column("supervisor", required=True, help="A login."),
        ),
    ),
    LoadKind(
        name="past-measurements",
        load=load_past_measurements,
        help="What was measured on those overhauls; judged as it would be today.",
        key=("job", "characteristic", "taken_at"),
        columns=(
            Column("job", required=True),
            Column("characteristic", required=True, help="Its code in the procedure."),
            Column("readings", required=True, help="Separated by |; by group as bore=90.52|90.53; shaft=90.01|90.01."),
            Column("given", help="What else the rule asks for: bore_temperature_c=20; shaft_temperature_c=20."),
            Column("unit", required=True),
            Column("instrument", required=True),
            Column("second_instrument"),
            Column("taken_at", "datetime", required=True),
        ),
    ),
)
