"""Loading the operator's files through the public endpoint, as the ERP link, in the order of their numbers."""

import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from services.demo.api_client import Api, NotAsItShouldBe
from services.demo.operator.places import CENTRAL, TRANSIT
from services.demo.operator_files import kind_of

CSV, YAML = "text/csv", "application/yaml"
FIT_PATIENCE = 90.0
# Released kits and published procedures are what the files after these build on.
AFTER_KITS, AFTER_PROCEDURES = "coverage", "procedures"


def load_operator(folder: Path, erp: Api, reviewer: Api, *, say: Callable[[str], None]) -> None:
    """Hand in every file, release the kits, have the procedures reviewed and publish them, wait for all fits.

    Safe to begin again after an interruption: rows that are there are left alone. Raises `NotAsItShouldBe`.
    """
    files = [(path, kind) for path in sorted(folder.iterdir()) if (kind := kind_of(path))]
    for place, (path, kind) in enumerate(files):
        load = erp.hand_in(kind, path.name, path.read_bytes(), CSV if path.suffix == ".csv" else YAML)
        erp.wait_for_run(load["run"])
        report = erp.get(f"bulk-loads/{load['id']}")
        say(f"  {path.name:<36} {counts_of(report)}")
        last_of_kind = place + 1 == len(files) or files[place + 1][1] != kind
        if kind == AFTER_KITS:
            say(f"  {release_kits(erp)} kits released")
        elif kind == AFTER_PROCEDURES and last_of_kind:
            say(f"  {publish_procedures(erp, reviewer)} procedures published")
    say(f"  {tell_transit_times(erp)} transit times told")
    wait_for_fits(erp)


def counts_of(report: Mapping[str, Any]) -> str:
    """The counts of a load in a few words."""
    names = ("created", "changed", "unchanged", "refused", "noted")
    return ", ".join(f"{report[f'{name}_rows']} {name}" for name in names if report[f"{name}_rows"]) or "no rows"


def release_kits(erp: Api) -> int:
    """Release every draft; how many."""
    drafts = list(erp.all("kits", state="draft"))
    for kit in drafts:
        erp.post(f"kits/{kit['id']}/release", key=f"release {kit['id']}", seen=f"kits/{kit['id']}")
    return len(drafts)


def publish_procedures(erp: Api, reviewer: Api) -> int:
    """Hand every draft in, have it reviewed by a person, publish it; how many."""
    drafts = list(erp.all("procedure-revisions", state="draft"))
    for one in drafts:
        path = f"procedure-revisions/{one['id']}"
        for who, act in ((erp, "submit"), (reviewer, "review"), (erp, "publish")):
            who.post(f"{path}/{act}", key=f"{act} {one['id']}", seen=path)
    return len(drafts)


def tell_transit_times(erp: Api) -> int:
    """Say how long goods take from the central store to each site and back; how many ways."""
    ids = {one["code"]: one["id"] for one in erp.all("sites")}
    for code, days, cost in TRANSIT:
        for start, end in ((CENTRAL, code), (code, CENTRAL)):
            row = {"from_site": ids[start], "to_site": ids[end], "days": days, "cost": cost, "currency": "EUR"}
            erp.post("transit-times", row, key=f"transit {start} {end}")
    return 2 * len(TRANSIT)


def wait_for_fits(erp: Api) -> None:
    """Wait until the worker has computed all fits. Raises `NotAsItShouldBe`."""
    pump = erp.get("pumps", limit=1)["results"][0]
    until = time.monotonic() + FIT_PATIENCE
    while erp.get(f"pumps/{pump['id']}/fits")["pending"]:
        if time.monotonic() > until:
            raise NotAsItShouldBe("the fits were not computed in time")
        time.sleep(0.5)
