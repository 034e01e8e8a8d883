"""The working of a proposal as a run keeps it, for tests of what is shown of it."""

from typing import Any

MONTHS = ["0"] * 12 + ["2"] * 11 + ["0"]
WORKING: dict[str, Any] = {
    "as_of": "2027-01-15",
    "demand": {
        "first_month": "2025-01-01",
        "months": MONTHS,
        "pattern": "intermittent",
        "method": "tsb",
        "mean_a_month": "1.235141",
        "variance_a_month": "1.328412",
        "squared_errors": {"tsb": "1.738571", "croston": "2.920488"},
    },
    "lead_time": {"days": "42", "sd_days": "9", "review_days": 1, "demand_mean": "1.744922"},
    "target": {"fill_rate": "0.95", "reached": "0.967398"},
    "reorder_point": 3,
    "position": {
        "usable": "1",
        "dying": "0",
        "on_order": "0",
        "held_for_jobs": "0",
        "claimed": "0",
        "total": "1",
    },
    "order_quantity": {
        "economic": "5.309749",
        "usual": 6,
        "minimum": "2",
        "multiple": "2",
        "capped_by_shelf_life": False,
        "minimum_exceeds_cap": False,
    },
    "source": {"kind": "buy", "alternative": ""},
    "quantity": 6,
}
WORDS = "\n".join(
    [
        "22 were used in the last 24 whole months, in 11 of them; expected 1.24 a month.",
        "From order to shelf it takes 42 days, give or take 9; about 1.74 will be needed meanwhile.",
        "To meet 95% of needs from the shelf, more is ordered when the position is 3 or below.",
        "The position is 1: 1 usable.",
        "6 lifts it above that; the supplier takes at least 2, in steps of 2.",
    ]
)
