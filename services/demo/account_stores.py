"""The account's steps about files, fit, reservation and replenishment."""

import datetime
from typing import Any

import yaml

from services.demo.account import OTHER_PUMP, STORY_KIT, STORY_PUMP, STORY_SITE, Account, plain
from services.demo.api_client import Api
from services.demo.loading import counts_of
from services.demo.operator_files import BLEMISHES


def files_were_loaded(account: Account) -> None:
    """Step 1: the files went in; what was mended and what was refused is told row by row."""
    account.heading(1, "The files of the ERP and of the workshop")
    erp = account.callers["erp-link"]
    loads = {one["name"]: one for one in erp.all("bulk-loads")}
    expected = yaml.safe_load((account.folder / BLEMISHES).read_text(encoding="utf-8"))
    for name in sorted(loads):
        account.item(f"{name}: {counts_of(loads[name])}")
    for name, rows in expected["rows"].items():
        account.must(name in loads, f"{name} was not loaded")
        load = loads[name]
        read = sum(load[f"{one}_rows"] for one in ("created", "changed", "unchanged", "refused"))
        account.must(read == rows, f"{name}: {read} rows reported where {rows} were handed in")
    account.say("What was mended, and what was refused:")
    for outcome in ("noted", "refused"):
        for one in expected[outcome]:
            _told(account, erp, loads[one["file"]], one, outcome)


def _told(account: Account, erp: Api, load: dict[str, Any], wanted: dict[str, Any], outcome: str) -> None:
    query = {"noted": "true"} if outcome == "noted" else {"outcome": "refused"}
    rows = {one["row"]: one for one in erp.all(f"bulk-loads/{load['id']}/rows", **query)}
    row = rows.get(wanted["row"])
    account.must(row is not None, f"{wanted['file']} row {wanted['row']} was not reported as {outcome}")
    told = [
        one for one in (row or {})["notes" if outcome == "noted" else "problems"] if one["column"] == wanted["column"]
    ]
    account.must(
        any(wanted["says"] in one["detail"] for one in told),
        f"{wanted['file']} row {wanted['row']}: the report says {told}, not {wanted['says']!r}",
    )
    remedy = f" {told[0]['remedy']}" if outcome == "refused" else ""
    place = f"{wanted['file']} row {wanted['row']}, {told[0]['column']} {told[0]['value']!r}"
    account.item(f"{place}: {told[0]['detail']}{remedy}")


def kits_that_fit(account: Account) -> None:
    """Step 2: which kit fits the pump, ranked with reasons."""
    account.heading(2, f"Which kit fits {STORY_PUMP}")
    planner = account.callers["silja"]
    pump = planner.one("pumps", tag=STORY_PUMP)
    account.found["pump"] = pump
    account.say(
        f"{pump['tag']} at {pump['site_code']}: {pump['pump_model_code']}, serial {pump['serial_number']}, "
        f"{pump['fluid_code']} up to {plain(pump['temperature_max_c'])} °C, "
        f"elastomers {pump['variant']['elastomer']}."
    )
    fits = planner.get(f"pumps/{pump['id']}/fits?scope=full-overhaul")
    account.must(not fits["pending"], "fits are still being computed")
    for kit in fits["kits"]:
        account.item(
            f"{kit['number']} {kit['revision']} ({kit['name']}): {kit['verdict'].replace('-', ' ')}; "
            f"{kit['matched']} of {kit['asked']} positions, {plain(kit['free_at_site'])} free here."
        )
        for reason in kit["reasons"]:
            if reason["code"] != "exact":
                account.say(reason["sentence"], indent=7)
    verdicts = {kit["number"]: kit for kit in fits["kits"]}
    first = fits["kits"][0]
    account.must(first["number"] == STORY_KIT and first["verdict"] == "fits", f"{STORY_KIT} should come first")
    nitrile = verdicts["FK-L100-N"]
    account.must(
        nitrile["verdict"] == "unsuitable" and any("NBR" in one["sentence"] for one in nitrile["reasons"]),
        "the nitrile kit should be unsuitable",
    )
    lacking = verdicts["FK-L100-X"]
    account.must(
        lacking["verdict"] == "incomplete"
        and any(one["code"] == "missing" and one["role"] == "bearing-de" for one in lacking["reasons"]),
        "the kit without its bearing should be incomplete",
    )
    account.must(verdicts["FK-L100-W"]["verdict"] == "fits-with-notes", "the earlier pack should fit with notes")
    account.found["kit"] = first


def kit_is_reserved(account: Account) -> None:
    """Step 3: a job from the published procedure, its kit reserved; the last kit is not given twice."""
    account.heading(3, "A job, and the kit for it")
    planner, pump, kit = account.callers["silja"], account.found["pump"], account.found["kit"]
    job = _planned(account, planner, "first", pump["id"], kit["kit"])
    if job["state"] == "planned":
        account.say(f"{job['number']} is planned for {job['planned_start']}: {job['state_reasons'][0]['sentence']}")
        job = planner.post(f"jobs/{job['id']}/reserve-kit", key="reserve first")
    account.must(job["state"] != "planned", f"{job['number']} should be ready; it is {job['state_reasons']}")
    account.found["job"] = job
    held = [one for claim in job["reservations"] for one in claim["allocations"]]
    account.must(len(held) == 1, "one lot should be held")
    account.found["lot"] = held[0]["lot"]
    account.say(
        f"{job['number']} by {job['procedure_code']} revision {job['procedure_revision_number']}: lot {held[0]['lot']} "
        f"is held in bin {held[0]['bin']}; its last day is {held[0]['expires_on'] or 'not limited'}. The job is ready."
    )
    if job["state"] == "closed":
        account.say(f"{job['number']} was closed before; the shelf may have been filled since.")
        return
    other = planner.one("pumps", tag=OTHER_PUMP)
    second = _planned(account, planner, "second", other["id"], kit["kit"])
    refused = planner.post(f"jobs/{second['id']}/reserve-kit", key=f"reserve second {account.today}", status=409)
    account.say(f"{second['number']} for {OTHER_PUMP} wants the same kit and is refused: {refused['detail']}")
    for one in refused["passed_over"]:
        account.item(f"lot {one['lot']} passed over: {one['reason']}")
    for one in refused["alternatives"]:
        account.item(f"{one['site_name']}: {plain(one['free'])} free")
    receipt = refused["next_receipt"]
    account.must(refused["code"] == "insufficient-stock", f"unexpected refusal {refused['code']}")
    account.must(bool(refused["passed_over"]), "the expired lot should be named")
    account.must(any(one["site"] == "central-store" for one in refused["alternatives"]), "the central store has some")
    account.must(receipt is not None, "an order is on its way")
    account.item(f"order {receipt['order']}: {plain(receipt['quantity'])} expected on {receipt['expected_on']}")


def _planned(account: Account, planner: Api, name: str, pump: str, kit: str) -> Any:
    job_id = account.id_of(f"job {name}")
    known = planner.call("GET", f"jobs/{job_id}")
    if known.status == 200:
        return known.body
    start = account.today.isoformat()
    body = {"id": job_id, "pump": pump, "kit": kit, "planned_start": start}
    return planner.post("jobs", body, key=f"plan {name}")


def shelf_is_refilled(account: Account) -> None:
    """Step 11: the position falls to the reorder point, one proposal is raised, approved, ordered and received."""
    account.heading(11, "The next kit")
    stores, kit = account.callers["tumas"], account.found["kit"]["kit"]
    site = account.found["pump"]["site"]
    before = _shelf(stores, site, kit)
    promised = stores.get(f"sites/{site}/items/{kit}/promise", quantity=1)
    ways = {one["way"] for one in promised["ways"]}
    account.must(before > 0 or "transfer" in ways, "no transfer is among the ways to a kit")
    account.say("How soon could one more be had?")
    account.item(promised["words"])
    proposals = _proposals(stores, site, kit)
    if not proposals:
        for turn in ("first", "second"):
            run = stores.post("replenishment-runs", {"site": site}, key=f"replenish {turn} {account.today}")
            done = stores.wait_for_run(run["run"])["result"]
            account.say(f"Replenishment run: {done['looked_at']} items looked at, {done['opened']} proposals opened.")
        account.must(done["opened"] == 0, "the second run should open nothing")
        proposals = _proposals(stores, site, kit)
    account.must(len(proposals) == 1, f"{len(proposals)} proposals for the kit where one was expected")
    proposal = proposals[0]
    account.say(f"Proposed: {plain(proposal['quantity'])} of {proposal['item_number']} {proposal['item_revision']}.")
    for sentence in proposal["words"].splitlines():
        account.item(sentence)
    if proposal["state"] != "approved":
        path = f"replenishment-proposals/{proposal['id']}"
        proposal = stores.post(f"{path}/approve", key=f"approve {proposal['id']}", seen=path)
    order = stores.get(f"orders/{proposal['order']}")
    account.say(f"Approved: order {order['number']} to {order['supplier_name']}.")
    _receive(account, stores, order, proposal)
    order = stores.get(f"orders/{order['id']}")
    line = _line(order, kit)
    account.must(line["received"] == line["quantity"], "all of it should have come")
    after = _shelf(stores, site, kit)
    account.say(f"In date on the shelf: {plain(after)}; there were {plain(before)} before the goods came.")
    account.must(after >= float(line["quantity"]), "the stock should be back")


def _line(order: dict[str, Any], kit: str) -> dict[str, Any]:
    return dict(next(one for one in order["lines"] if one["item"] == kit))


def _receive(account: Account, stores: Api, order: dict[str, Any], proposal: dict[str, Any]) -> None:
    path, kit = f"orders/{order['id']}", proposal["item"]
    if order["state"] == "approved":
        stores.post(f"{path}/send", {"erp_number": "ERP-90417"}, key=f"send {order['id']}", seen=path)
    half = float(_line(order, kit)["quantity"]) // 2
    quarter = (account.today.month - 1) // 3
    cured = f"{quarter}Q{account.today.year}" if quarter else f"4Q{account.today.year - 1}"
    for part in ("first", "second"):
        order = stores.get(path)
        line = _line(order, kit)
        came, rest = float(line["received"]), float(line["quantity"]) - float(line["received"])
        if rest <= 0 or (part == "first" and came > 0):
            continue
        quantity = half if part == "first" else rest
        arrived = {"line": line["line"], "quantity": str(quantity), "lot": "L-90417", "cure_date": cured}
        order = stores.post(f"{path}/receive", {"lines": [arrived]}, key=f"receive {part} {order['id']}", seen=path)
        account.say(f"Received {plain(quantity)}: the order is {order['state'].replace('-', ' ')}.")


def _proposals(stores: Api, site: str, kit: str) -> list[dict[str, Any]]:
    return list(stores.all("replenishment-proposals", site=site, item=kit, state__in="open,snoozed,approved"))


def _shelf(stores: Api, site: str, kit: str) -> float:
    """What is usable and in date today."""
    today = datetime.datetime.now(datetime.UTC).date().isoformat()
    return sum(
        float(one["on_hand"])
        for one in stores.all("stock-balances", site=site, item=kit, condition="usable")
        if one["expires_on"] is None or one["expires_on"] >= today
    )


__all__ = ["STORY_SITE", "files_were_loaded", "kit_is_reserved", "kits_that_fit", "shelf_is_refilled"]
