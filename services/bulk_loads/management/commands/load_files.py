"""Load files from the command line, in the order given."""

import csv
from argparse import ArgumentTypeError
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from tqdm import tqdm

from services.api.refusals import Refusal
from services.api.rendering import csv_cell
from services.bulk_loads.by_hand import first_problems, load_here
from services.bulk_loads.models import BulkLoad, BulkLoadRow
from services.identity.callers import Caller, as_caller
from services.identity.models import Principal

MOST_PRINTED = 20
COUNTS = ("created", "changed", "unchanged", "refused", "noted")
REPORT = ("file", "row", "key", "outcome", "what", "column", "value", "detail", "remedy")


def kind_and_path(text: str) -> tuple[str, Path]:
    """``pumps=register.xlsx`` as a kind and a file that is there."""
    kind, sign, name = text.partition("=")
    if not sign or not kind or not name:
        raise ArgumentTypeError(f"{text!r} is not KIND=FILE, such as pumps=register.xlsx")
    path = Path(name)
    if not path.is_file():
        raise ArgumentTypeError(f"there is no file {name}")
    return kind, path


class Command(BaseCommand):
    help = (
        "Load files, each named with its kind (GET /api/v1/bulk-load-kinds): load_files pumps=register.xlsx. Rows "
        "that are there already are left alone. Interrupted, the file at hand is undone. Ends with 1 where a row was "
        "refused."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("files", nargs="+", type=kind_and_path, metavar="KIND=FILE")
        parser.add_argument("--as", dest="login", help="Who loads; may be left out where there is one service account.")
        parser.add_argument("--mapping", default="", help="The name of a saved mapping.")
        parser.add_argument("--sheet", default="", help="The sheet of a workbook.")
        parser.add_argument("--dry-run", action="store_true", help="Report only; nothing stays.")
        parser.add_argument("--whole-or-nothing", action="store_true", help="One refused row undoes its whole file.")
        parser.add_argument("--report", type=Path, help="Write what became of each row to this CSV file.")

    def handle(self, *args: Any, **options: Any) -> None:
        by = self._loader(options["login"])
        loads = []
        try:
            for kind, path in options["files"]:
                loads.append(self._load(by, kind, path, options))
        finally:
            if options["report"]:
                write_report(options["report"], loads)
        refused = sum(one.refused_rows for one in loads)
        if refused:
            raise CommandError(f"{refused} row{'s were' if refused > 1 else ' was'} refused.")

    def _loader(self, login: str | None) -> Caller:
        known = Principal.objects.filter(is_active=True)
        found = known.filter(login__iexact=login) if login else known.filter(kind=Principal.Kind.SERVICE)
        some = list(found[:2])
        if len(some) != 1:
            what = f"There is no active account {login!r}." if login else "There is not just one service account."
            raise CommandError(f"{what} Name who loads with --as LOGIN.")
        return as_caller(some[0])

    def _load(self, by: Caller, kind: str, path: Path, options: dict[str, Any]) -> BulkLoad:
        try:
            with tqdm(desc=path.name, unit=" rows", file=self.stderr, disable=None, leave=False) as bar:

                def watch(done: int, total: int | None) -> None:
                    bar.total = total
                    bar.update(done - bar.n)

                load = load_here(
                    by=by,
                    kind=kind,
                    path=path,
                    mapping=options["mapping"],
                    sheet=options["sheet"],
                    dry_run=options["dry_run"],
                    whole_or_nothing=options["whole_or_nothing"],
                    watch=watch,
                )
        except Refusal as refusal:
            raise CommandError(f"{path.name}: {refusal.detail} {refusal.remedy}".strip()) from refusal
        except KeyboardInterrupt as stopped:
            raise CommandError(f"{path.name}: stopped; nothing of this file stays.") from stopped
        self._tell(load)
        return load

    def _tell(self, load: BulkLoad) -> None:
        if load.run.state != "done":
            problem = load.run.result.get("problem", {})
            words = problem.get("detail") or load.run.result.get("left", "")
            raise CommandError(f"{load.name}: {load.run.state}. {words} {problem.get('remedy', '')}".strip())
        counts = ", ".join(f"{count} {name}" for name in COUNTS if (count := getattr(load, f"{name}_rows")))
        undone = load.dry_run or (load.whole_or_nothing and load.refused_rows)
        self.stdout.write(f"{load.name}: {counts or 'no rows'}{' (nothing was kept)' if undone else ''}")
        for note in load.notes:
            self.stdout.write(f"  {note}")
        for row, one in first_problems(load, MOST_PRINTED):
            value = f" {one.value!r}" if one.value else ""
            self.stdout.write(f"  row {row}, {one.column or 'the row'}{value}: {one.detail} {one.remedy}")
        if load.refused_rows > MOST_PRINTED:
            self.stdout.write(f"  and {load.refused_rows - MOST_PRINTED} more refused rows; --report FILE names all.")


def write_report(path: Path, loads: list[BulkLoad]) -> None:
    """A line for each note and each problem, and one for each row without any."""
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.writer(opened)
        writer.writerow(REPORT)
        for load in loads:
            writer.writerows([csv_cell(one) for one in line] for line in _lines(load))


def _lines(load: BulkLoad) -> Iterator[list[Any]]:
    for one in BulkLoadRow.objects.filter(bulk_load=load).order_by("row").iterator():
        told = [*(("problem", it) for it in one.problems), *(("note", it) for it in one.notes)]
        for what, it in told or [("", {})]:
            said = [it.get(name, "") for name in ("column", "value", "detail", "remedy")]
            yield [load.name, one.row, one.key, one.outcome, what, *said]
