"""Make the person from whom all other grants come."""

import getpass
import sys
from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone

from assets.operations.people import register_first_administrator
from services.api.refusals import Refusal
from services.identity.models import READ, WRITE
from services.identity.tokens import issue_token

TOKEN_LIFE = timedelta(days=7)


class Command(BaseCommand):
    help = (
        "Register the first administrator of the whole operator, and print a token that lasts a week. The password is "
        "asked for, or read from standard input. Refused once there is an administrator."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("login")
        parser.add_argument("name", help="The person's name, quoted.")

    def handle(self, *args: Any, **options: Any) -> None:
        password = getpass.getpass("Password: ") if sys.stdin.isatty() else sys.stdin.readline().rstrip("\n")
        if not password:
            raise CommandError("No password was given.")
        try:
            with transaction.atomic(durable=True):
                person = register_first_administrator(login=options["login"], name=options["name"], password=password)
                _, text = issue_token(
                    principal_id=person.pk,
                    name="first administrator",
                    scopes=[READ, WRITE],
                    expires_at=timezone.now() + TOKEN_LIFE,
                )
        except Refusal as refusal:
            raise CommandError(f"{refusal.detail} {refusal.remedy}") from refusal
        self.stdout.write(f"{person.login} administers the whole operator.\nToken, shown this once: {text}")
