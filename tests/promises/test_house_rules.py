"""Rules of the house that a linter does not know, each tried on a good and a bad snippet."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LONGEST = 420


def tracked(pattern: str) -> list[Path]:
    listed = subprocess.run(["git", "ls-files", "-z", pattern], cwd=ROOT, capture_output=True, check=True, text=True)
    return [ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).exists()]


SOURCES = [one for one in tracked("*.py") if "migrations" not in one.parts]


def code(folder: str) -> list[Path]:
    return [
        one
        for one in SOURCES
        if f"/{folder}/" in one.relative_to(ROOT).as_posix() and "tests" not in one.relative_to(ROOT).parts
    ]


def bare_atomic(text: str) -> list[str]:
    """Blocks that open a transaction without saying whether they join or stand alone."""
    return re.findall(r"(?:transaction\.)?atomic\(\s*\)|@transaction\.atomic\s*$", text, flags=re.M)


def locks(text: str) -> list[str]:
    return re.findall(r"select_for_update\(", text)


def fetches(text: str) -> list[str]:
    return re.findall(r"\.objects\b|\.save\(|\.delete\(\)", text)


@pytest.mark.parametrize(
    ("rule", "bad", "good"),
    [
        (bare_atomic, "with transaction.atomic():", "with transaction.atomic(durable=True):"),
        (bare_atomic, "@transaction.atomic\ndef x(): ...", "@transaction.atomic(savepoint=False)\ndef x(): ..."),
        (locks, "rows.select_for_update(no_key=True)", "rows.filter()"),
        (fetches, "Pump.objects.get()", "pumps(by=by)"),
    ],
)
def test_the_rules_themselves_tell_bad_from_good(rule, bad, good):
    assert rule(bad)
    assert not rule(good)


def offenders(paths: list[Path], rule) -> list[str]:
    return [f"{one.relative_to(ROOT)}: {found}" for one in paths if (found := rule(one.read_text(encoding="utf-8")))]


def test_no_transaction_is_opened_without_saying_how():
    own = [one for one in SOURCES if "tests" not in one.relative_to(ROOT).parts]
    assert offenders(own, bare_atomic) == []


def test_only_operations_lock():
    own = [
        one
        for one in SOURCES
        if one.relative_to(ROOT).parts[0] in {"assets", "kits", "jobs"} and "operations" not in one.parts
    ]
    assert offenders(own, locks) == []


def test_doors_of_the_apps_neither_fetch_nor_save():
    doors = [one for one in [*code("api"), *code("pages")] if one.relative_to(ROOT).parts[0] != "services"]
    assert offenders(doors, fetches) == []


def test_files_stay_small_enough_to_hold_in_the_head():
    long = {one.relative_to(ROOT).as_posix(): len(one.read_text(encoding="utf-8").splitlines()) for one in SOURCES}
    assert {name: count for name, count in long.items() if count > LONGEST} == {}


def test_no_file_is_named_for_nothing():
    vague = re.compile(r"(^|/)(utils?|helpers?|common|misc|stuff)(\.py|/)")
    assert [one for one in SOURCES if vague.search(one.relative_to(ROOT).as_posix())] == []


def test_the_roofs_package_is_empty():
    assert (ROOT / "services" / "__init__.py").read_text() == ""


def test_nothing_is_left_for_later_and_no_check_is_switched_off():
    left = re.compile(r"\bTODO\b|\bFIXME\b|\bXXX\b|pytest\.mark\.(?:skip|xfail)\b")
    mine = Path(__file__)
    found = [one for one in SOURCES if one != mine and left.search(one.read_text(encoding="utf-8"))]
    assert found == []


def test_locks_hold_no_address_of_an_index():
    for lock in tracked("requirements/*.txt"):
        text = lock.read_text(encoding="utf-8")
        assert "://" not in text, lock
        assert "--hash=sha256:" in text, lock


def test_every_migration_stands_in_one_line():
    for app in ("assets", "kits", "jobs", "services/identity", "services/changes", "services/work", "services/api"):
        folder = ROOT / app / "migrations"
        names = sorted(one.stem for one in folder.glob("0*.py"))
        assert [int(name[:4]) for name in names] == list(range(1, len(names) + 1)), app
        assert (folder / "max_migration.txt").read_text().strip() == names[-1], app
