"""Keeping what installed pumps are expected to need: written as a whole for a site by whoever works it out."""

import uuid
from collections.abc import Sequence

from django.db import connection, transaction

from kits.models import ExpectedOverhauls
from kits.queries.expected_overhauls import expected_rows
from services.changes.recording import record_change
from services.identity.callers import Caller

LOCK_SPACE = 7303
OWN = ("id", "computed_at", "number", "revision")


@transaction.atomic(savepoint=False)
def replace_expected_overhauls(*, by: Caller | None, site_id: uuid.UUID, rows: Sequence[ExpectedOverhauls]) -> bool:
    """Put these rows in place of all of the site's; whether anything is different. The same rows again change nothing.
    Two runs of one site wait for each other. The worker passed the gate when the run was asked for."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s, hashtext(%s))", [LOCK_SPACE, str(site_id)])
    kept = expected_rows(site_id)
    known = {(one["item_id"], one["month"]): {name: one[name] for name in one if name not in OWN} for one in kept}
    names = [one.attname for one in ExpectedOverhauls._meta.concrete_fields if one.attname not in OWN]
    fresh = {(one.item_id, one.month): {name: getattr(one, name) for name in names} for one in rows}
    if known == fresh:
        return False
    ExpectedOverhauls.objects.filter(site_id=site_id).delete()
    ExpectedOverhauls.objects.bulk_create(rows, batch_size=2000)
    record_change(
        "expected-overhauls.worked-out",
        noun="expected-overhauls",
        noun_id=site_id,
        site_id=site_id,
        by=by,
        body={"items": len({one.item_id for one in rows}), "as_of": rows[0].as_of if rows else None},
    )
    return True
