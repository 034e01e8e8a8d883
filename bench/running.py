"""All measures on a database of its own, which is dropped at the end."""

import logging
import os
import platform

from django.db import connection
from django.test.utils import setup_test_environment

from bench.measures import every_measure
from bench.operator_data import load_operator
from bench.timing import Comparison


def run() -> None:
    """Make the database, load the operator, print every ratio."""
    setup_test_environment(debug=False)
    logging.disable(logging.INFO)
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    made = str(connection.settings_dict["NAME"])
    try:
        tokens = load_operator()
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
            cursor.execute("SHOW server_version")
            version = cursor.fetchone()[0]
        print(f"Python {platform.python_version()}, PostgreSQL {version}, {os.cpu_count()} processors\n")
        print("| what | takes | in a second | floor | takes | ratio |\n|---|---|---|---|---|---|")
        for one in every_measure(tokens):
            print(_line(one), flush=True)
    finally:
        connection.creation.destroy_test_db(made, verbosity=0)


def _line(one: Comparison) -> str:
    return (
        f"| {one.name} | {one.seconds * 1000:.1f} ms | {one.per_second:.0f} {one.unit} "
        f"| {one.floor} | {one.floor_seconds * 1000:.2f} ms | {one.ratio:.1f} |"
    )
