"""Put the trade's tables in: position roles, fluids, materials, lubricants, storage groups, scopes, targets."""

from typing import Any

from django.core.management.base import BaseCommand

from assets.operations import trade_tables as of_assets
from assets.operations.build_classes import place_outdated_pumps
from kits.operations import trade_tables as of_kits


class Command(BaseCommand):
    help = "Insert missing rows of the trade's tables; rows that are there stay. Place pumps whose class is outdated."

    def handle(self, *args: Any, **options: Any) -> None:
        counts = of_assets.load_trade_tables() | of_kits.load_trade_tables()
        self.stdout.write(", ".join(f"{count} {name}" for name, count in counts.items()) + " added.")
        if placed := place_outdated_pumps():
            self.stdout.write(f"{placed} pumps placed in their build class anew.")
