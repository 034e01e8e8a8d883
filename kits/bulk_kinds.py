"""Kinds of files that kits take."""

from assets.calculations.written_units import convert_written
from kits.models import MovementKind, Order
from kits.operations.coverage_loads import load_coverage
from kits.operations.kit_loads import load_kit_lines, load_kits
from kits.operations.order_loads import load_orders
from kits.operations.part_loads import load_parts, load_supplier_terms, load_suppliers
from kits.operations.stock_loads import load_lots, load_movements, load_opening_stock
from kits.operations.supersession_loads import load_supersessions
from kits.operations.table_loads import load_lubricant_verdicts, load_material_limits, load_material_ratings
from services.api.loading import Column, LoadKind, declare_load

ITEM = (
    Column("item", required=True, help="The number of a part or a kit."),
    Column("revision", help="Of a kit."),
)
SHELF = (
    Column("external_id", required=True),
    Column("site", required=True, help="The site's code."),
    Column("bin", help="The bin's code; the default bin if left out."),
    *ITEM,
    Column("lot", required=True),
    Column("quantity", "decimal", required=True),
    Column("condition", "choice", choices=("usable", "quarantined"), help="usable if left out."),
    Column("occurred_at", "datetime", required=True),
)
SAID = (
    Column("note"),
    Column("chosen_because", help="A reason lets the row count before other sources."),
    Column("source", required=True, help="Where the figure comes from."),
)

declare_load(
    LoadKind(
        name="suppliers",
        load=load_suppliers,
        help="Suppliers keyed by code.",
        key=("code",),
        columns=(
            Column("code", required=True),
            Column("name", required=True),
            Column("minimum_order_value", "decimal", help="Smaller orders are not taken; left out, it stays."),
            Column("minimum_order_currency", help="Of the minimum order value."),
        ),
    ),
    LoadKind(
        name="parts",
        load=load_parts,
        help="Parts keyed by external id.",
        key=("external_id",),
        columns=(
            Column("external_id", required=True),
            Column("number", required=True),
            Column("name", required=True),
            Column("maker", help="The maker's code."),
            Column("category", required=True),
            Column("specification", required=True, help="In the form of its category, such as 226 EPDM 70."),
            Column("unit", help="piece if left out."),
            Column("cost", "decimal"),
            Column("currency"),
        ),
    ),
    LoadKind(
        name="supersessions",
        load=load_supersessions,
        help="Which part replaces which, from when, keyed by the two numbers.",
        key=("old_number", "new_number"),
        columns=(
            Column("old_number", required=True),
            Column("new_number", required=True),
            Column("from_date", "date", required=True),
            Column("until_date", "date", help="The last day on which it holds; left out, an end that is known stays."),
            Column("both_ways", "yes_no"),
        ),
    ),
    LoadKind(
        name="kits",
        load=load_kits,
        help="Revisions of kits; new ones are drafts until POST /kits/{id}/release.",
        key=("number", "revision"),
        columns=(
            Column("external_id", required=True),
            Column("number", required=True),
            Column("revision", required=True),
            Column("name", required=True),
            Column("scope", required=True, help="A scope's code."),
            Column("criticality", "choice", choices=("vital", "essential", "desirable")),
            Column("cost", "decimal"),
            Column("currency"),
        ),
    ),
    LoadKind(
        name="kit-lines",
        load=load_kit_lines,
        help="Lines of drafts keyed by kit, revision and line.",
        key=("kit", "revision", "line"),
        columns=(
            Column("kit", required=True),
            Column("revision", required=True),
            Column("line", "integer", required=True),
            Column("role", required=True),
            Column("part", required=True, help="The part's number."),
            Column("quantity", "decimal", required=True),
            Column("optional", "yes_no"),
            Column("alternative_group"),
        ),
    ),
    LoadKind(
        name="coverage",
        load=load_coverage,
        help="What makers say kits are for.",
        key=("kit", "revision", "model", "serial_from", "serial_to"),
        columns=(
            Column("kit", required=True),
            Column("revision", required=True),
            Column("model", required=True, help="The pump model's external id."),
            Column("serial_from", help="The first serial; AB* for those that begin with AB."),
            Column("serial_to", help="The last serial; AB* takes in all that begin with AB."),
            Column("variant", help="As-built conditions: elastomer=EPDM; seal-faces=Q1Q1."),
            Column("valid_from", "date", help="The first day on which the word holds."),
            Column("valid_to", "date", help="The last day; left out, one that is known stays."),
        ),
    ),
    LoadKind(
        name="supplier-terms",
        load=load_supplier_terms,
        help="Terms keyed by supplier and item.",
        key=("supplier", "item", "revision"),
        columns=(
            Column("supplier", required=True),
            *ITEM,
            Column("lead_time_days", "decimal", required=True, unit="d", places=2, convert=convert_written),
            Column("lead_time_sd_days", "decimal", unit="d", places=2, convert=convert_written),
            Column("minimum", "decimal"),
            Column("multiple", "decimal"),
            Column("price", "decimal", required=True),
            Column("currency", required=True),
            Column("order_cost", "decimal"),
        ),
    ),
    LoadKind(
        name="lots",
        load=load_lots,
        help="Lots keyed by item and number.",
        key=("item", "revision", "lot"),
        columns=(
            *ITEM,
            Column("lot", required=True),
            Column("cure_date", may_be_date=True, help="As on the pack: 2025-08-14 or 3Q2025."),
            Column("received_on", "date", required=True),
        ),
    ),
    LoadKind(
        name="opening-stock",
        load=load_opening_stock,
        help="What lay on the shelves when the ledger began, keyed by external id.",
        key=("external_id",),
        columns=SHELF,
    ),
    LoadKind(
        name="movements",
        load=load_movements,
        help="Past movements keyed by external id, in the order in which they happened.",
        key=("external_id",),
        columns=(
            *SHELF,
            Column("kind", "choice", required=True, choices=tuple(MovementKind.values)),
            Column("reason"),
            Column("job", help="The number of the job it was for."),
            Column("reverses", help="The external id of the movement it takes back."),
        ),
    ),
    LoadKind(
        name="orders",
        load=load_orders,
        help="Orders, one row a line, keyed by number and item.",
        key=("number", "item", "revision"),
        columns=(
            Column("number", required=True),
            Column("site", required=True),
            Column("supplier", required=True),
            *ITEM,
            Column("quantity", "decimal", required=True),
            Column("received", "decimal", required=True),
            Column("expected_on", "date", required=True),
            Column("price", "decimal", required=True),
            Column("currency", required=True),
            Column("state", "choice", required=True, choices=tuple(Order.State.values)),
        ),
    ),
    LoadKind(
        name="material-ratings",
        load=load_material_ratings,
        help="Ratings keyed by material, fluid family, temperature and source.",
        columns=(
            Column("material", required=True, help="A material's code."),
            Column("fluid_family", required=True, help="A fluid family's code."),
            Column("up_to_c", "decimal", required=True),
            Column("rating", "choice", required=True, choices=("A", "B", "C", "X")),
            *SAID,
        ),
    ),
    LoadKind(
        name="material-limits",
        load=load_material_limits,
        help="Temperature limits keyed by material and source.",
        columns=(
            Column("material", required=True, help="A material's code."),
            Column("air_min_c", "decimal"),
            Column("air_max_c", "decimal"),
            Column("hot_water_max_c", "decimal"),
            *SAID,
        ),
    ),
    LoadKind(
        name="lubricant-verdicts",
        load=load_lubricant_verdicts,
        help="Which lubricant a material bears, keyed by both and by source.",
        columns=(
            Column("material", required=True, help="A material's code."),
            Column("lubricant", required=True, help="A lubricant's code."),
            Column("verdict", "choice", required=True, choices=("ok", "check", "avoid", "forbidden")),
            *SAID,
        ),
    ),
)
