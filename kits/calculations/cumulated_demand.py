"""Demand that is known by the end of each month, read at any day between."""

import numpy as np

from kits.calculations.demand_arrays import Floats, Ints


def cumulated_until(days: Ints, ends: Ints, table: Floats) -> Floats:
    """What has come together after so many days (items,), within a month evenly; beyond the last the whole time's pace
    goes on. ``ends`` (months,) are days, rising; ``table`` (months, items) what has come together by each."""
    marks = np.concatenate([[0.0], ends.astype(np.float64)])
    known = np.vstack([np.zeros(table.shape[1]), table])
    after = np.clip(np.searchsorted(marks, days, side="left"), 1, len(ends))
    items = np.arange(table.shape[1])
    before, then = known[after - 1, items], known[after, items]
    length = np.maximum(marks[after] - marks[after - 1], 1)
    inside = before + (then - before) * (days - marks[after - 1]) / length
    beyond = then + then / np.maximum(marks[-1], 1) * (days - marks[-1])
    result: Floats = np.where(days > marks[-1], beyond, inside)
    return result
