"""Prove that the records of all closed jobs are as they were signed, and that none is missing from their chain."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction

from jobs.queries.record_chain import Verified, one_snapshot, verify_all

MOST_SHOWN = 200


class Command(BaseCommand):
    help = (
        "Read the chain of closed jobs' records from its beginning: compare each record with the tables, and check "
        "hashes, seals and order. Exit code 1 where something does not hold. That the end was cut off is found only "
        "against an exported head (--head)."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--head", type=Path, help="A file that export_chain_head wrote, kept elsewhere.")

    def handle(self, *args: Any, **options: Any) -> None:
        head = None if options["head"] is None else _head(options["head"])
        seen, count = Verified(), 0
        outermost = not connection.in_atomic_block
        with transaction.atomic(savepoint=False):
            if outermost:
                one_snapshot()
            for count, found in enumerate(verify_all(seen, head=head), start=1):
                if count <= MOST_SHOWN:
                    self.stderr.write(found.words())
        if count > MOST_SHOWN:
            self.stderr.write(f"… and {count - MOST_SHOWN} more.")
        jobs = f"{seen.links} record{'' if seen.links == 1 else 's'} in the chain"
        if count:
            raise CommandError(f"{count} thing{'' if count == 1 else 's'} did not hold; {jobs}.")
        self.stdout.write(
            f"The records hold: {jobs}, {seen.signatures} signatures, keys {', '.join(sorted(seen.keys)) or 'none'}."
        )
        if seen.taken_over:
            self.stdout.write(f"{seen.taken_over} jobs were taken over from earlier records and are not signed.")
        if head is None:
            self.stdout.write("No exported head was given (--head): whether the end was cut off is not known.")
        else:
            self.stdout.write(f"The chain reaches the exported head, link {head['number']} of {head['at']}.")


def _head(path: Path) -> dict[str, Any]:
    try:
        head = json.loads(path.read_text(encoding="utf-8"))
        return {"number": int(head["number"]), "mac": str(head["mac"]), "at": str(head["at"])}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CommandError(f"{path} is no head that export_chain_head wrote: {error}") from error
