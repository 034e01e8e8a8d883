"""Supersessions handed in as rows of files."""

import datetime
import uuid
from collections.abc import Sequence

from django.db import transaction

from assets.access import require_operator_wide
from assets.calculations.part_numbers import normalise_number
from kits.calculations.supersession import Link
from kits.models import Supersession
from kits.operations.parts import OWNERS
from kits.operations.row_figures import versions_of
from kits.operations.supersessions import take_turn
from kits.queries.parts import part_ids_by_number
from kits.queries.supersessions import chains_of
from services.api.loading import LoadRow, RowNote, RowOutcome
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller


@transaction.atomic(savepoint=False)
def load_supersessions(*, by: Caller, rows: Sequence[LoadRow]) -> list[RowOutcome]:
    """Supersessions keyed by the two numbers. The row that would close a circle is refused, the others are taken; an
    end that is known stays where a row names none. A fixed number of queries for any number of rows."""
    require_operator_wide(by, *OWNERS)
    take_turn()
    named = {str(row.values[column]) for row in rows for column in ("old_number", "new_number")}
    parts, chains = part_ids_by_number(named), chains_of(named).links
    known = {
        (one.old_id, one.new_id): one for one in Supersession.objects.filter(old_id__in=parts.values()).order_by("id")
    }
    outcomes: list[RowOutcome] = []
    fresh: dict[uuid.UUID, Supersession] = {}
    changed: dict[uuid.UUID, Supersession] = {}
    for row in rows:
        values = row.values
        key = f"{values['old_number']} {values['new_number']}"
        old_id, new_id = (parts.get(str(values[column]).upper()) for column in ("old_number", "new_number"))
        if old_id is None or new_id is None:
            column = "old_number" if old_id is None else "new_number"
            outcomes.append(
                RowOutcome.refused(row, key, column, "No such part is known.", "Load the parts first; check it.")
            )
            continue
        kept = known.get((old_id, new_id))
        end = values.get("until_date") or (kept.until_date if kept is not None else None)
        wanted = _link(row, values["from_date"], bool(values.get("both_ways")), end)
        before = None if kept is None else _link(row, kept.from_date, kept.both_ways, kept.until_date)
        if before == wanted:
            outcomes.append(RowOutcome(row.number, key, "unchanged", notes=_ended(end)))
            continue
        if end is not None and end < wanted.from_date:
            outcomes.append(RowOutcome.refused(row, key, "until_date", "It ends before it begins.", "Swap the two."))
            continue
        if before is not None:
            chains.drop(before)
        if chains.closes_a_cycle(wanted):
            if before is not None:
                chains.add(before)
            outcomes.append(
                RowOutcome.refused(
                    row,
                    key,
                    "new_number",
                    "It leads back to the older part.",
                    "Swap the two, or let the older chain end first.",
                )
            )
            continue
        chains.add(wanted)
        if kept is None:
            made = Supersession(
                old_id=old_id, new_id=new_id, from_date=wanted.from_date, until_date=end, both_ways=wanted.both_ways
            )
            known[old_id, new_id] = fresh[made.pk] = made
            outcomes.append(RowOutcome(row.number, key, "created"))
        else:
            kept.from_date, kept.until_date, kept.both_ways = wanted.from_date, end, wanted.both_ways
            if kept.pk not in fresh:
                changed[kept.pk] = kept
            outcomes.append(RowOutcome(row.number, key, "changed", notes=_ended(end)))
    Supersession.objects.bulk_create(fresh.values())
    Supersession.objects.bulk_update(changed.values(), ["from_date", "until_date", "both_ways"], batch_size=1000)
    versions = versions_of(list(changed.values()))
    record_changes(
        [
            Recorded(
                kind,
                "supersession",
                one.pk,
                versions.get(one.pk, one.version),
                None,
                {"old": one.old_id, "new": one.new_id},
            )
            for kind, some in (("supersession.registered", fresh), ("supersession.changed", changed))
            for one in some.values()
        ],
        by=by,
    )
    return outcomes


def _link(row: LoadRow, from_date: datetime.date, both_ways: bool, until_date: datetime.date | None) -> Link[str]:
    old, new = (normalise_number(str(row.values[column])) for column in ("old_number", "new_number"))
    return Link(old, new, from_date, both_ways, until_date)


def _ended(end: datetime.date | None) -> list[RowNote]:
    return [] if end is None else [RowNote("until_date", end.isoformat(), "it holds until this day only")]
