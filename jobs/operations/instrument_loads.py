"""Instruments handed in as rows of a file."""

from collections.abc import Sequence
from functools import partial

from django.db import transaction

from assets.access import has_role
from assets.queries.sites import site_ids_by_code
from jobs.models import Instrument
from jobs.operations.instruments import KEEPERS, usual_unit
from services.api.loading import LoadRow, RowOutcome
from services.api.refusals import InvalidValue
from services.api.sorting_rows import SortedRows
from services.changes.sorted_rows import write_sorted
from services.identity.callers import Caller

FIGURES = (
    "type", "range_from", "range_to", "unit", "resolution", "expanded_uncertainty", "calibrated_on", "calibration_due",
)  # fmt: skip


@transaction.atomic(savepoint=False)
def load_instruments(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Rows of number, site and figures, keyed by number. Four queries whatever the number of rows."""
    sites = site_ids_by_code({str(row.values.get("site")) for row in rows})
    found = SortedRows(
        {one.number: one for one in Instrument.objects.filter(number__among=[row.values["number"] for row in rows])}
    )
    outcomes = []
    for row in rows:
        key = str(row.values["number"])
        site_id = sites.get(str(row.values.get("site")))
        if site_id is None or not has_role(by, site_id, *KEEPERS):
            outcomes.append(
                RowOutcome.refused(row, key, "site", "No such site is granted to you.", "Check the site's code.")
            )
            continue
        missing = next((name for name in FIGURES if row.values.get(name) is None), None)
        if missing:
            outcomes.append(RowOutcome.refused(row, key, missing, f"{missing} is empty.", "Fill it in."))
            continue
        wrong = _unsound(row)
        if wrong:
            outcomes.append(RowOutcome.refused(row, key, *wrong))
            continue
        figures = {name: row.values[name] for name in FIGURES} | {"site_id": site_id}
        figures["unit"] = usual_unit(str(figures["unit"]))
        outcomes.append(found.take(row, key, key, figures, partial(Instrument, number=key, **figures)))
    write_sorted(
        found,
        [*FIGURES, "site"],
        by=by,
        noun="instrument",
        told=lambda one: {"number": one.number, "type": one.type},
        site_of=lambda one: one.site_id,
    )
    return outcomes


def _unsound(row: LoadRow) -> tuple[str, str, str] | None:
    values = row.values
    try:
        usual_unit(str(values["unit"]))
    except InvalidValue as error:
        return "unit", error.detail, error.remedy
    if values["range_from"] >= values["range_to"]:
        return "range_to", "The range ends before it begins.", "Give the lower end in range_from."
    if values["resolution"] <= 0:
        return "resolution", "The resolution must be above zero.", "Give the smallest step that can be read."
    if values["expanded_uncertainty"] <= 0:
        return "expanded_uncertainty", "The uncertainty must be above zero.", "Give the certificate's U at k = 2."
    if values["calibrated_on"] >= values["calibration_due"]:
        return "calibration_due", "Calibration falls due before it was made.", "Check both dates."
    return None
