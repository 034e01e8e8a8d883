"""The image installs service.txt and the demo embedded.txt: what they import must not be in development's lock only."""

import os
import re
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
IMPORT_ALL = """
import importlib, pkgutil, sys
absent, left_out, setting = sys.argv[1].split(","), tuple(sys.argv[2].split(",")), sys.argv[3]

class Absent:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in absent:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)

sys.meta_path.insert(0, Absent())
import os
os.environ["DJANGO_SETTINGS_MODULE"] = setting
import django
django.setup()
count = 0
for top in ("assets", "kits", "jobs", "services"):
    for one in pkgutil.walk_packages(importlib.import_module(top).__path__, top + "."):
        if not one.name.startswith(left_out) and not one.name.endswith("__main__"):
            importlib.import_module(one.name)
            count += 1
print(count)
"""


def distributions(lock: str) -> set[str]:
    text = (ROOT / "requirements" / f"{lock}.txt").read_text()
    return {name.lower() for name in re.findall(r"^([A-Za-z0-9._-]+)==", text, flags=re.M)}


def modules_outside(lock: str) -> set[str]:
    """Top-level modules that only the development environment has."""
    needed, whole = distributions(lock), distributions("development")
    assert needed < whole
    return {
        module
        for module, owners in metadata.packages_distributions().items()
        if {re.sub(r"[._]", "-", one).lower() for one in owners} <= whole - needed
    }


@pytest.mark.parametrize(
    ("lock", "left_out", "setting"),
    [
        ("service", "services.settings,services.demo,services.embedded", "services.settings.production"),
        ("embedded", "services.settings", "services.settings.development"),
    ],
)
def test_everything_imports_with_what_its_lock_holds(lock, left_out, setting):
    absent = modules_outside(lock)
    assert {"pytest", "django_linear_migrations"} <= absent
    done = subprocess.run(
        [sys.executable, "-c", IMPORT_ALL, ",".join(sorted(absent)), left_out, setting],
        cwd=ROOT,
        env={
            "PATH": os.environ["PATH"],
            "SECRET_KEY": "for-this-test-only-" + "0" * 50,
            "RECORD_KEYS": "test:" + "00" * 32,
            "DATABASE_URL": "postgresql://none/none",
            "REDIS_URL": "redis://none",
            "PUBLIC_ADDRESS": "https://none.invalid",
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr[-1500:]
    assert int(done.stdout) > 100
