"""Prove over the whole store that every balance is the sum of its movements, and so is what transfers moved."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from kits.queries.movements import ledger_differences, ledger_size
from kits.queries.transfers import transfer_differences


class Command(BaseCommand):
    help = "Compare balances with the sums of their movements, what is reserved with the claims on it, and transfers."

    def handle(self, *args: Any, **options: Any) -> None:
        differences = ledger_differences()
        for one in differences:
            self.stderr.write(
                f"{one['site']} {one['bin']} {one['item']} {one['revision']} lot {one['lot']} ({one['condition']}): "
                f"on hand {one['on_hand']:f}, movements give {one['moved']:f}; "
                f"reserved {one['reserved']:f}, claims give {one['claimed']:f}"
            )
        moved = transfer_differences()
        for one in moved:
            self.stderr.write(
                f"transfer {one['transfer']} line {one['line']} lot {one['lot']}: sent {one['sent']:f}, movements give "
                f"{one['gone']:f}; received {one['received']:f}, movements give {one['came']:f}"
            )
        movements, balances = ledger_size()
        if differences:
            raise CommandError(f"{len(differences)} of {balances} balances differ from the ledger.")
        if moved:
            raise CommandError(f"{len(moved)} lots of transfers differ from the ledger.")
        self.stdout.write(f"The ledger holds: {balances} balances equal the sums of {movements} movements.")
