"""Prove over the whole store that every balance is the sum of its movements."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from kits.queries.movements import ledger_differences, ledger_size


class Command(BaseCommand):
    help = "Compare every balance with the sum of its movements, and what is reserved with the claims on it."

    def handle(self, *args: Any, **options: Any) -> None:
        differences = ledger_differences()
        for one in differences:
            self.stderr.write(
                f"{one['site']} {one['bin']} {one['item']} {one['revision']} lot {one['lot']} ({one['condition']}): "
                f"on hand {one['on_hand']:f}, movements give {one['moved']:f}; "
                f"reserved {one['reserved']:f}, claims give {one['claimed']:f}"
            )
        movements, balances = ledger_size()
        if differences:
            raise CommandError(f"{len(differences)} of {balances} balances differ from the ledger.")
        self.stdout.write(f"The ledger holds: {balances} balances equal the sums of {movements} movements.")
