"""What a site's installed pumps are expected to need of the items of a run, each until its own day."""

import datetime
import uuid

import numpy as np

from kits.calculations.cumulated_demand import cumulated_until
from kits.calculations.demand_arrays import Ints
from kits.calculations.reorder_point import DAYS_OF_MONTH
from kits.calculations.site_plan import Installed, without_installed
from services.api.copy_out import read_arrays

# Rows of a site are written as a whole: every item has the same months.
EXPECTED = """
SELECT p.place, (e.as_of - date '2000-01-01')::int4 AS as_of,
       ((e.month + interval '1 month')::date - e.as_of)::int4 AS until, e.mean_until, e.variance_until,
       e.weight_of_history, e.walk_in_mean, e.walk_in_variance
FROM kits_expectedoverhauls e JOIN planned_items p USING (item_id)
WHERE e.site_id = %(site)s
ORDER BY p.place, e.month
"""
EPOCH = datetime.date(2000, 1, 1)


def installed_until(site_id: uuid.UUID, as_of: datetime.date, horizon: Ints) -> Installed:
    """Of each item (items,) the expected demand of the days from ``as_of`` on, as many as ``horizon`` names; jobs that
    are planned are left out, since they claim what they need. One statement.

    A rate of walk-in demand is read from the first of the months, of which only what was left is counted.
    """
    rows = read_arrays(
        EXPECTED,
        {"site": site_id},
        place="int4", as_of="int4", until="int4", mean="float8", variance="float8", weight="float8",
        walk_in_mean="float8", walk_in_variance="float8",
    )  # fmt: skip
    found = without_installed(len(horizon))
    if not len(rows["place"]):
        return found
    places, starts = np.unique(rows["place"], return_index=True)
    months = len(rows["place"]) // len(places)
    table = {name: value.reshape(len(places), months).T for name, value in rows.items()}
    ends = table["until"][:, 0]
    since = max((as_of - EPOCH).days - int(rows["as_of"][0]), 0)
    until = since + horizon[places]
    for name in ("mean", "variance"):
        begun = cumulated_until(np.full(len(places), since), ends, table[name])
        getattr(found, name)[places] = np.maximum(cumulated_until(until, ends, table[name]) - begun, 0)
    a_month = DAYS_OF_MONTH / max(int(ends[0]), 1)
    found.weight_of_history[places] = rows["weight"][starts]
    found.walk_in_mean[places] = rows["walk_in_mean"][starts] * a_month
    found.walk_in_variance[places] = rows["walk_in_variance"][starts] * a_month
    return found
