"""The keys that seal records come from the environment and are checked when the service starts."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from services.settings.environment import ConfigurationError, record_key, record_keys

ROOT = Path(__file__).parents[2]
A, B = "00" * 32, "ff" * 40


def test_keys_are_read_by_their_ids():
    assert record_keys(f"2026-a:{A}, 2027-a:{B},") == {"2026-a": bytes(32), "2027-a": bytes.fromhex(B)}


@pytest.mark.parametrize("given", ["a", "a:", f":{A}", f"a b:{A}", "a:zz", f"a:{A[:-2]}", f"{'x' * 41}:{A}"])
def test_a_malformed_or_short_key_is_refused_and_never_repeated(given):
    with pytest.raises(ConfigurationError, match="RECORD_KEYS: key 1") as refused:
        record_keys(given)
    assert A[:-2] not in str(refused.value)


def test_an_id_stands_for_one_key():
    with pytest.raises(ConfigurationError, match="twice"):
        record_keys(f"a:{A},a:{B}")


def test_the_only_key_seals_and_among_several_one_is_named():
    assert record_key({"a": bytes(32)}, "") == "a"
    assert record_key({"a": bytes(32), "b": bytes(32)}, "b") == "b"
    for keys, chosen in (({}, ""), ({"a": bytes(32), "b": bytes(32)}, ""), ({"a": bytes(32)}, "c")):
        with pytest.raises(ConfigurationError, match="RECORD_KEY"):
            record_key(keys, chosen)


@pytest.mark.parametrize(
    ("keys", "said"),
    [({}, "RECORD_KEYS is not set"), ({"RECORD_KEYS": ""}, "holds no key"), ({"RECORD_KEYS": "a:00"}, "64 hex digits")],
)
def test_production_does_not_start_without_keys(keys, said):
    done = subprocess.run(
        [sys.executable, "-c", "import services.settings.production"],
        cwd=ROOT,
        env={
            "PATH": os.environ["PATH"],
            "SECRET_KEY": "for-this-test-only-" + "0" * 50,
            "DATABASE_URL": "postgresql://none/none",
            "REDIS_URL": "redis://none",
            "PUBLIC_ADDRESS": "https://none.invalid",
            **keys,
        },
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode != 0
    assert said in done.stderr
