"""Compute all fits anew: for whoever keeps the installation, should they ever be doubted."""

from typing import Any

from django.core.management.base import BaseCommand

from kits.operations.fit import MARKS_AT_ONCE, compute_marked, mark_everything


class Command(BaseCommand):
    help = "Mark every released kit and compute all fits anew; a worker that is at it already goes on with them."

    def handle(self, *args: Any, **options: Any) -> None:
        kits, computed = mark_everything(), 0
        while taken := compute_marked(limit=MARKS_AT_ONCE):
            computed += taken
        done = "were computed anew" if computed else "are marked; a worker is computing them"
        self.stdout.write(f"The fits of {kits} kits {done}.")
