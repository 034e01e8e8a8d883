"""``python -m bench.worker_memory RUN``: one recorded load done as a worker does it; prints the most MB it held."""

import importlib
import logging
import os
import resource
import sys

import django

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "services.settings.testing")
    django.setup()
    logging.disable(logging.INFO)
    # Models can be imported only now.
    importlib.import_module("services.bulk_loads.tasks").run_bulk_load(sys.argv[1])
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
