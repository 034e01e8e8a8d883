"""All measures, each part on a database of its own, which is dropped at the end."""

import logging
import os
import platform
from collections.abc import Callable, Iterator, Sequence
from functools import partial

from django.db import connection
from django.test.utils import setup_test_environment

from bench.answer_measures import measures_of_answers
from bench.fit_measures import measures_of_fits
from bench.job_measures import measures_of_a_sheet, measures_of_offline_records
from bench.ledger_measures import measures_of_the_ledger
from bench.measures import measures_of_a_large_catalogue, measures_of_the_operator
from bench.network_measures import measures_of_the_network
from bench.operator_data import load_operator
from bench.replenishment_measures import SIZES, measures_of_replenishment
from bench.timing import Comparison
from bench.trend_measures import measures_of_trends

PARTS = (
    "operator", "catalogue", "fits", "network", "projection", "promise", "trend", "job-sheet", "offline",
    "ledger",
    *(f"replenishment-{one}" for one in SIZES),
)  # fmt: skip
# Calculations alone, on data of their own.
WITHOUT_THE_OPERATOR = ("network",)
# Worth measuring only on a server that syncs: asked for by name.
DURABLE = ("ledger",)


def run(parts: Sequence[str] = ()) -> None:
    """Print every ratio, or those of some `PARTS`. Each has a database of its own, most with the operator in it."""
    if unknown := set(parts) - set(PARTS):
        raise SystemExit(f"{', '.join(unknown)}: not measured here. Known: {', '.join(PARTS)}.")
    setup_test_environment(debug=False)
    logging.disable(logging.INFO)
    for place, part in enumerate(parts or [one for one in PARTS if one not in DURABLE]):
        _measure(part, first=place == 0)


def _measure(part: str, *, first: bool) -> None:
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    made = str(connection.settings_dict["NAME"])
    try:
        tokens = {} if part in WITHOUT_THE_OPERATOR else load_operator()
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
            cursor.execute("SHOW server_version")
            version = cursor.fetchone()[0]
        if first:
            print(f"Python {platform.python_version()}, PostgreSQL {version}, {os.cpu_count()} processors\n")
            print("| what | takes | in a second | floor | takes | ratio |\n|---|---|---|---|---|---|")
        measures: dict[str, Callable[[], Iterator[Comparison]]] = {
            "operator": partial(measures_of_the_operator, tokens),
            "catalogue": measures_of_a_large_catalogue,
            **{f"replenishment-{name}": partial(measures_of_replenishment, pairs) for name, pairs in SIZES.items()},
            "fits": partial(measures_of_fits, tokens),
            "ledger": measures_of_the_ledger,
            "projection": partial(measures_of_answers, tokens, "projection"),
            "promise": partial(measures_of_answers, tokens, "promise"),
            "trend": partial(measures_of_trends, tokens),
            "job-sheet": partial(measures_of_a_sheet, tokens),
            "offline": partial(measures_of_offline_records, tokens),
            "network": measures_of_the_network,
        }
        for one in measures[part]():
            print(_line(one), flush=True)
    finally:
        connection.creation.destroy_test_db(made, verbosity=0)


def _line(one: Comparison) -> str:
    return (
        f"| {one.name} | {one.seconds * 1000:.1f} ms | {one.per_second:.0f} {one.unit} "
        f"| {one.floor} | {one.floor_seconds * 1000:.2f} ms | {one.ratio:.1f} |"
    )
