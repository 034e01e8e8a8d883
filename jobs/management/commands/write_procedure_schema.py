"""Write docs/procedure.schema.json, the form of procedures; ``--check`` only compares."""

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from jobs.calculations.procedure_format import SCHEMA


class Command(BaseCommand):
    help = "Write docs/procedure.schema.json."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="Only compare; fail where it is not current.")

    def handle(self, *args: Any, **options: Any) -> None:
        text = json.dumps(SCHEMA, indent=2, ensure_ascii=False) + "\n"
        page = Path(settings.BASE_DIR) / "docs" / "procedure.schema.json"
        if not options["check"]:
            page.write_text(text, encoding="utf-8")
        elif not page.exists() or page.read_text(encoding="utf-8") != text:
            raise CommandError("docs/procedure.schema.json is not current. Run manage.py write_procedure_schema.")
