"""An empty database made ready for the operator's files: migrated, with rights, trade tables and people."""

import datetime
import json
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser

from services.demo.operator_files import PEOPLE, render
from services.demo.staff import take_on


class Command(BaseCommand):
    help = "Migrate, grant the application's role its rights, put the trade's tables in, render the operator's files."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="Where the operator's files are rendered.")
        parser.add_argument("--day", type=datetime.date.fromisoformat, required=True, help="The day of loading.")

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        call_command("grant_application_role", verbosity=0)
        call_command("load_trade_tables", stdout=self.stderr)
        render(options["folder"], options["day"])
        people = take_on(options["folder"] / PEOPLE)
        self.stdout.write(json.dumps({"people": people}, ensure_ascii=False))
