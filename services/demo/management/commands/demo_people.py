"""Take on the people of the invented operator."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from services.demo.operator_files import PEOPLE
from services.demo.staff import NobodyBegins, take_on


class Command(BaseCommand):
    help = (
        "Take on the people of people.yaml in FOLDER, with grants, demo passwords and fresh tokens. May be repeated: "
        "after the sites are loaded it adds the grants that waited for them."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="Where the operator's files were rendered.")
        parser.add_argument("--json", action="store_true", help="Print logins, passwords and tokens as JSON.")

    def handle(self, *args: Any, **options: Any) -> None:
        file = options["folder"] / PEOPLE
        if not file.is_file():
            raise CommandError(f"There is no {file}. Render the operator's files into that folder first.")
        try:
            people = take_on(file)
        except NobodyBegins as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            self.stdout.write(json.dumps({"people": people}, ensure_ascii=False, indent=2))
            return
        for one in people:
            roles = ", ".join(f"{grant['role']} at {grant.get('site', 'every site')}" for grant in one["grants"])
            self.stdout.write(f"{one['login']:<12} {one['password'] or '(no password)':<18} {one['title']}: {roles}")
