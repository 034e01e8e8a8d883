"""What a proposal says of other sites, as far as its reader may know of them."""

from collections.abc import Iterable
from typing import Any

from assets.access import sites_with
from services.identity.callers import Caller

HIDDEN = "There may be some at other sites: ask stores."
ANOTHER = "another site"
OF_STOCK_THERE = ("sites", "lender", "days", "free_there", "reorder_point_there")


def hide_other_sites(by: Caller, rows: Iterable[dict[str, Any]]) -> None:
    """Take out of proposals what is said of sites at which the caller has no role: free quantities unless they see
    availability, and reorder points in any case. ``rows`` hold ``working``, and whichever of words, warnings and the
    lender's names are shown; they are changed in place. At most the query of the caller's roles."""
    granted = sites_with(by)
    if granted is None:
        return
    known = {str(one) for one in granted}
    for row in rows:
        working = row.get("working") or {}
        source = working.get("source") or {}
        if not source.get("words") or (source.get("sites") and known.issuperset(source["sites"])):
            continue
        if by.sees_availability:
            row["working"] = working | {"source": _without(source, ["reorder_point_there"])}
            continue
        told = source["words"]
        row["working"] = working | {
            "source": _without(source, OF_STOCK_THERE) | {"words": HIDDEN},
            "warnings": _hidden(working.get("warnings"), told),
        }
        if "words" in row:
            row["words"] = "\n".join(HIDDEN if one == told else one for one in row["words"].splitlines())
        if "warnings" in row:
            row["warnings"] = _hidden(row["warnings"], told)
        for name in ("lender", "lender_code"):
            if name in row:
                row[name] = None
        if row.get("lender_name"):
            row["lender_name"] = ANOTHER


def _without(source: dict[str, Any], names: Iterable[str]) -> dict[str, Any]:
    return {name: value for name, value in source.items() if name not in set(names)}


def _hidden(warnings: Any, told: str) -> list[Any]:
    return [one | {"words": HIDDEN} if one.get("words") == told else one for one in warnings or []]
