"""Write the end of the chain of records, to be kept where the database's keeper cannot reach it."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from jobs.queries.record_chain import chain_head


class Command(BaseCommand):
    help = (
        "Write number, seal and time of the chain's last link as JSON. Keep it elsewhere, on paper or with another "
        "party: verify_records --head then finds whether the end of the chain was cut off."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="Where to write it; left out: to the terminal.")

    def handle(self, *args: Any, **options: Any) -> None:
        text = json.dumps(chain_head(timezone.now()), indent=2)
        if options["file"] is None:
            self.stdout.write(text)
        else:
            options["file"].write_text(text + "\n", encoding="utf-8")
            self.stdout.write(f"Written to {options['file']}.")
