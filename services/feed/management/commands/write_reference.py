"""Write docs/refusals.md, changes.md and calculations.md from what the code declares; ``--check`` only compares."""

import inspect
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from services.api.problems import STATUS
from services.api.refusals import known_refusals
from services.changes.recording import KINDS
from services.feed.calculations_page import calculations_page


def refusals_page() -> str:
    """Every refusal by code: its status, what it means and what would help."""
    lines = [
        "# Refusals",
        "",
        "Branch on `code`, never on the words. The same explanation stands at `/problems/<code>`.",
        "Written by `manage.py write_reference`.",
        "",
        "| code | status | means |",
        "|---|---|---|",
    ]
    for code, refusal in sorted(known_refusals().items()):
        if code == "refused":
            continue
        words = " ".join((inspect.getdoc(refusal) or "").split())
        lines.append(f"| `{code}` | {STATUS[refusal.kind]} | {words} |")
    return "\n".join(lines) + "\n"


def changes_page() -> str:
    """Every kind of change that the feed tells."""
    lines = [
        "# Changes",
        "",
        "What `GET /api/v1/changes` tells, in an order in which nothing is missed. Keep `next`, ask again with it as",
        "`after`; with `wait` the answer is held back until something happens. Apply a change by its `id` and",
        "`version`: one that is not newer than what you have is old news. Skip kinds that you do not know:",
        "more may come.",
        "Written by `manage.py write_reference`.",
        "",
        "| kind | means |",
        "|---|---|",
    ]
    lines += [f"| `{kind}` | {words} |" for kind, words in sorted(KINDS.items())]
    return "\n".join(lines) + "\n"


class Command(BaseCommand):
    help = "Write docs/refusals.md, docs/changes.md and docs/calculations.md."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--check", action="store_true", help="Only compare; fail where a page is not current.")

    def handle(self, *args: Any, **options: Any) -> None:
        stale = []
        for name, text in (
            ("refusals.md", refusals_page()),
            ("changes.md", changes_page()),
            ("calculations.md", calculations_page()),
        ):
            page = Path(settings.BASE_DIR) / "docs" / name
            if options["check"]:
                if not page.exists() or page.read_text(encoding="utf-8") != text:
                    stale.append(name)
            else:
                page.write_text(text, encoding="utf-8")
        if stale:
            raise CommandError(f"Not current: {', '.join(stale)}. Run manage.py write_reference.")
