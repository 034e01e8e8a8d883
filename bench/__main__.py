"""``make bench``; ``python -m bench operator``, ``catalogue``, ``fits`` or ``network`` measures a part."""

import importlib
import os
import sys

import django

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "services.settings.testing")
    django.setup()
    # Models can be imported only now.
    importlib.import_module("bench.running").run(sys.argv[1:])
