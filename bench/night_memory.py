"""``python -m bench.night_memory DAY SITE...``: replenishes sites one after the other; prints the most MB it held."""

import datetime
import importlib
import logging
import os
import resource
import sys
import uuid

import django

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "services.settings.testing")
    django.setup()
    logging.disable(logging.INFO)
    # Models can be imported only now.
    replenish = importlib.import_module("kits.operations.replenishment").replenish_site
    with importlib.import_module("django.db").connection.cursor() as cursor:
        cursor.execute("DELETE FROM kits_proposal")
        cursor.execute("TRUNCATE kits_replenishmentlevel")
    for one in sys.argv[2:]:
        replenish(by=None, site_id=uuid.UUID(one), as_of=datetime.date.fromisoformat(sys.argv[1]))
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
