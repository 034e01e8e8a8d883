"""Reading count sheets. What the book says is shown where the sheet lets it be seen, and nowhere else."""

import uuid
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.db import connection
from django.db.models import Count as HowMany
from django.db.models import F, OuterRef, Q, QuerySet, Subquery

from assets.access import has_role, narrow, require_role
from kits.calculations.counting import worth
from kits.models import Count, CountLine, Lot
from services.api.models import as_uuid
from services.api.refusals import NotThere
from services.api.rows import plain_rows
from services.identity.callers import Caller

COUNTERS = ("fitter", "supervisor", "stores", "integrator", "admin")
REVIEWERS = ("stores", "admin")
LIVE = ("open", "counted")


def counts(*, by: Caller) -> QuerySet[Count]:
    """Sheets of granted sites, with the number of their lines and of those that are counted."""
    return narrow(Count.objects.all(), by).annotate(
        line_count=HowMany("lines"), counted_lines=HowMany("lines", filter=Q(lines__state="counted"))
    )


def count_for(by: Caller, count_id: Any, *roles: str) -> Count:
    """One sheet, where the caller has one of the roles at its site. Raises `NotThere`, `NotAllowed`."""
    found = narrow(Count.objects.all(), by).filter(pk=as_uuid(count_id)).first()
    if found is None:
        raise NotThere("The count is not here.", remedy="Check the id, or ask for a role at its site.")
    if roles:
        require_role(by, found.site_id, *roles, what="The count")
    return found


# A reversal takes its effect when what it reverses happened: it corrects the book, not the shelf.
BOOK = """
SELECT l.id, coalesce(sum(m.quantity) FILTER (
    WHERE coalesce(r.occurred_at, m.occurred_at) <= coalesce(l.counted_at, statement_timestamp())
), 0)
FROM kits_countline l
JOIN kits_count c ON c.id = l.count_id
LEFT JOIN kits_lot t ON t.item_id = l.item_id AND t.number = l.lot_number
LEFT JOIN kits_movement m ON m.site_id = c.site_id AND m.bin_id = l.bin_id AND m.item_id = l.item_id
    AND m.lot_id = t.id AND m.condition = l.condition
LEFT JOIN kits_movement r ON r.id = m.reverses_id
WHERE c.id = %s GROUP BY l.id
"""


def book_of(count_id: uuid.UUID) -> dict[uuid.UUID, Decimal]:
    """What the ledger says of each line for the moment at which it was counted, or now where it was not. One query.

    That is the sum of the movements that happened up to then, whenever they were recorded; a reversal counts from when
    the movement happened that it reverses.
    """
    with connection.cursor() as cursor:
        cursor.execute(BOOK, [count_id])
        return dict(cursor.fetchall())


def book_is_shown(by: Caller, count: dict[str, Any]) -> bool:
    """Whether the caller may see what the book says: never while a blind sheet is being counted, then who reviews,
    and everybody of the site once it is posted."""
    if not count["blind"] or count["state"] == Count.State.POSTED:
        return True
    return bool(count["state"] != Count.State.OPEN and has_role(by, count["site"], *REVIEWERS))


def count_lines(by: Caller, count: dict[str, Any]) -> list[dict[str, Any]]:
    """The lines of a sheet in the order of the shelves, as far as the caller may see them. Two queries.

    What was counted before a recount is not shown while that lasts. ``count`` holds id, site, state and blind.
    """
    lot = Lot.objects.filter(item_id=OuterRef("item_id"), number=OuterRef("lot_number"))
    rows = plain_rows(
        CountLine.objects.filter(count_id=count["id"])
        .annotate(bin_code=F("bin__code"), lot=Subquery(lot.values("id")[:1]))
        .order_by("bin__code", "item__number", "item__revision", "lot_number", "condition", "line")
        .values(
            "line", "bin", "bin_code", "item", "lot", "lot_number", "condition", "found", "state", "recount_reason",
            "quantity", "counted_at", "counted_by", "not_by", "id", "round",
            item_number=F("item__number"), item_revision=F("item__revision"), item_name=F("item__name"),
            unit=F("item__unit"), counted_by_name=F("counted_by__name"), not_by_name=F("not_by__name"),
            cost=F("item__cost"), currency=F("item__currency"), kept_book=F("book"),
        )
    )  # fmt: skip
    shown = book_is_shown(by, count)
    book = book_of(count["id"]) if shown and count["state"] in LIVE else {}
    for one in rows:
        cost, currency, kept = one.pop("cost"), one.pop("currency"), one.pop("kept_book")
        if one["state"] == CountLine.State.RECOUNT:
            one |= dict.fromkeys(("quantity", "counted_at", "counted_by", "counted_by_name"))
        one["book"] = book.get(one["id"], kept) if shown else None
        known = one["book"] is not None and one["quantity"] is not None
        one["difference"] = one["quantity"] - one["book"] if known else None
        value = worth(one["difference"], cost, currency) if known else None
        one["value"] = value.amount if value else None
        one["currency"] = value.currency if value else ""
    return rows


def count_of_page(by: Caller, count_id: Any) -> dict[str, Any]:
    """A sheet with its site and people, for the page. One query. Raises `NotThere`."""
    found = plain_rows(
        narrow(Count.objects.all(), by)
        .filter(pk=as_uuid(count_id))
        .values(
            "id", "number", "site", "state", "blind", "round", "version", "created_at", "submitted_at", "decided_at",
            "decision_reason", site_code=F("site__code"), site_name=F("site__name"), made=F("made_by__name"),
            submitted=F("submitted_by__name"), decided=F("decided_by__name"),
        )
    )  # fmt: skip
    if not found:
        raise NotThere("The count is not here.", remedy="Check the address, or ask for a role at its site.")
    return found[0]


def totals(lines: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """What all differences are worth, by currency: found, missing and both together."""
    found: dict[str, dict[str, Any]] = {}
    for one in lines:
        if one["value"]:
            sums = found.setdefault(one["currency"], {"found": Decimal(0), "missing": Decimal(0)})
            sums["found" if one["value"] > 0 else "missing"] += abs(one["value"])
    return [
        {"currency": currency, **sums, "together": sums["found"] - sums["missing"]}
        for currency, sums in sorted(found.items())
    ]


def live_sheets_of(shelves: Sequence[tuple[uuid.UUID, uuid.UUID, str, str]]) -> dict[Any, str]:
    """The number of the live sheet on which a (bin, item, lot number, condition) stands. One query."""
    wanted = set(shelves)
    rows = CountLine.objects.filter(
        live=True, bin_id__in={one[0] for one in wanted}, item_id__in={one[1] for one in wanted}
    ).values_list("bin_id", "item_id", "lot_number", "condition", "count__number")
    return {row[:4]: row[4] for row in rows if row[:4] in wanted}


def open_counts(by: Caller, site_id: uuid.UUID) -> list[dict[str, Any]]:
    """Live sheets of a site, the oldest first, for the page. One query."""
    rows = narrow(Count.objects.all(), by).filter(site_id=site_id, state__in=LIVE).order_by("id")
    return plain_rows(
        rows.values("id", "number", "state", "round", "created_at", made=F("made_by__name")).annotate(
            line_count=HowMany("lines"), counted_lines=HowMany("lines", filter=Q(lines__state="counted"))
        )
    )
