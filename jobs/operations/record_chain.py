"""Sealing the record of a closed job, next to those closed before it."""

from django.conf import settings
from django.db import connection

from jobs.calculations.record_chain import BEGINNING, Link, seal
from jobs.models import Job, RecordLink, SignOff
from jobs.queries.record_chain import last_link
from jobs.queries.record_rows import text

# One link after the other over the whole service. Taken last of all locks, and kept until the transaction ends.
LOCK = 5_210_417
LOCKING = "SELECT pg_advisory_xact_lock(%s)"


def append_link(*, job: Job, signature: SignOff) -> RecordLink:
    """The next link of the chain, for the signature that closes a job; called inside the transaction that signs.

    A transaction that is undone leaves no gap, since the next one takes the same number.
    """
    with connection.cursor() as cursor:
        cursor.execute(LOCKING, [LOCK])
    before = last_link()
    key_id = settings.RECORD_KEY
    link = Link(
        number=before.number + 1 if before else 1,
        job=str(job.pk),
        content_hash=signature.content_hash,
        at=text(signature.at) or "",
        previous_mac=before.mac if before else BEGINNING,
        key_id=key_id,
    )
    return RecordLink.objects.create(
        number=link.number,
        job=job,
        sign_off=signature,
        content_hash=link.content_hash,
        at=signature.at,
        previous_mac=link.previous_mac,
        key_id=key_id,
        mac=seal(link, settings.RECORD_KEYS[key_id]),
    )
