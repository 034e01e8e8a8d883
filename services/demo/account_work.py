"""The account's steps about the work itself: make safe, guidance, measurements, hold point, sign-off."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from assets.calculations.position_words import position_words
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.verdict import verdict_words
from jobs.calculations.written_limits import legible
from services.demo.account import STORY_SITE, Account, plain
from services.demo.account_records import photos_are_attached
from services.demo.api_client import Api

RUN_OUT, HEATING_STEP, HOLD_POINT = "shaft-run-out", 310, 350
# What is read where it is more than a figure in the middle of the limits: bands, and two dials of one turn.
READ: dict[str, Any] = {
    "light-bands": ["1", "1"],
    "reverse-indicator": {
        "stationary_hub": {"top": "0.000", "right": "0.024", "bottom": "0.008", "left": "-0.016"},
        "movable_hub": {"top": "0.000", "right": "-0.018", "bottom": "-0.028", "left": "-0.010"},
    },
}
# What a pump in hot water tells, where the middle of its limits would be no likely figure.
LIKELY = {
    "casing-temperature": 31.4, "discharge-pressure": 7.35, "bearing-temperature": 51.5, "room-temperature": 21.5,
}  # fmt: skip
# Both dials of one turn tell offset and angularity; what the feet need is told once.
ALIGNED = "coupling-offset"
GIVEN = {"plane_distance_mm": "140", "sag_mm": "-0.010", "front_foot_mm": "320", "rear_foot_mm": "610"}
# The gap as it was found, and with the ring that goes in.
WEARS, AS_FOUND, NEW_RING = "wear-ring-gap", ["0.53", "0.52", "0.54", "0.52"], ["0.37", "0.38", "0.37", "0.38"]
OVERDUE_DIAL = "DI-202"
LOOKED_AT = {HOLD_POINT: "faces clean, seat square", 440: "guard fastened, nothing within reach"}


def work_begins(account: Account) -> None:
    """Step 4: started, made safe with every caution, and led up to the lubricants and the heating of the bearing."""
    account.heading(4, "The work begins: making safe, and what this pump needs")
    fitter, job = account.callers["runa"], account.found["job"]
    path = f"jobs/{job['id']}"
    if fitter.get(path)["state"] == "ready":
        fitter.post(f"{path}/start", key="start", seen=path)
        refused = fitter.post(f"{path}/steps/110/confirm", key="too early", status=409)
        account.must(refused["code"] == "make-safe-first", "nothing may be recorded before making safe")
        account.say(f"A later step is refused: {refused['detail']} {refused['remedy']}")
    sheet = fitter.get(f"{path}/steps")
    account.say(sheet["safety"])
    for step in sheet["steps"]:
        if step["section"] == "make-safe" and step["state"] != "not-applicable":
            account.item(f"{step['number']} {step['title']}. {step['signal_word'].upper()}: {step['caution']}")
            account.must(bool(step["caution"]), "making safe has its cautions")
    for number in [one["number"] for one in sheet["steps"] if one["section"] in {"make-safe", "dismantle"}]:
        _do(account, fitter, path, number)
    lubricants = _step(fitter, path, HOLD_POINT)["advice"]
    account.say("Lubricants for the elastomers of this kit:")
    for one in lubricants:
        account.item(f"{one['name']}: {one['verdict']}. {one['note']}".strip())
    verdicts = {one["lubricant"]: one["verdict"] for one in lubricants}
    account.must(verdicts["mineral-grease"] == "forbidden", "no mineral grease on EPDM")
    account.must(verdicts["silicone-grease"] == "ok" and verdicts["soft-soap"] == "ok", "silicone grease or soft soap")


def shaft_is_measured(account: Account) -> None:
    """Step 5: an overdue indicator proves nothing, a rejection is reworked, the next measurement passes."""
    account.heading(5, "What is measured")
    fitter, supervisor, job = account.callers["runa"], account.callers["eydis"], account.found["job"]
    path = f"jobs/{job['id']}"
    step = _asking_for(fitter, path, RUN_OUT)
    _do(account, fitter, path, 210)
    tools = {one["number"]: one for one in fitter.all("instruments", site=job["site"])}
    _measure(account, fitter, path, step, RUN_OUT, ["0.010", "0.012", "0.015", "0.011"], tools[OVERDUE_DIAL], "overdue")
    _measure(account, fitter, path, step, RUN_OUT, ["0.010", "0.055", "0.082", "0.031"], tools["DI-201"], "bent")
    for one in supervisor.all("nonconformities", job=job["id"], state="open"):
        body = {"disposition": "rework", "reason": "straighten the shaft and measure again"}
        where = f"nonconformities/{one['id']}"
        decided = supervisor.post(f"{where}/decide", body, key=f"decide {one['id']}", seen=where)
        account.say(f"{decided['description']} Decided by {decided['decided_by']}: {decided['disposition']}.")
    _measure(account, fitter, path, step, RUN_OUT, ["0.008", "0.014", "0.019", "0.012"], tools["DI-201"], "straight")
    kept = _step(fitter, path, step)["characteristics"][0]["measurements"]
    for one in kept:
        account.item(
            f"attempt {one['attempt']}, {one['instrument']}: {plain(one['value'])} mm, "
            f"U {plain(one['expanded_uncertainty'])} mm, at most {plain(one['upper'])} mm: "
            f"{_verdict(one)}. {' '.join(reason['sentence'] for reason in one['reasons'])}"
        )
    verdicts = [one["verdict"] for one in kept]
    account.must(verdicts == ["not-proved", "reject", "accept"], f"the verdicts are {verdicts}")
    _do(account, fitter, path, step)
    for number in [
        one["number"] for one in fitter.get(f"{path}/steps")["steps"] if one["section"] == "clean-and-inspect"
    ]:
        _do(account, fitter, path, number)
    heating = _step(fitter, path, HEATING_STEP)["advice"][0]
    account.say(
        f"Heating the bearing: {heating['sentence']} ({heating['formula']}; {heating['source']}). Ceiling "
        f"{plain(heating['ceiling']['value'])} °C."
    )
    for caution in heating["cautions"]:
        account.item(caution)
    account.must(heating["within_ceiling"] is True, "the heating should stay below its ceiling")


def job_is_signed_off(account: Account) -> None:
    """Step 8: the kit leaves its lot, another person releases the hold point, the record is signed."""
    account.heading(8, "Fitted, looked at, signed")
    fitter, supervisor, job = account.callers["runa"], account.callers["eydis"], account.found["job"]
    path = f"jobs/{job['id']}"
    if any(one["state"] == "hard" for one in fitter.get(path)["reservations"]):
        fitter.post(f"{path}/take-kit", key="take kit")
    issued = list(account.callers["tumas"].all("stock-movements", job_number=job["number"], kind="issue"))
    account.must([one["lot_number"] for one in issued] == [account.found["lot"]], "the kit leaves the lot held for it")
    account.say(
        f"{issued[0]['by_name']} took the kit: {plain(issued[0]['quantity']).lstrip('-')} of lot "
        f"{issued[0]['lot_number']}."
    )
    looked_at = 0
    for step in fitter.get(f"{path}/steps")["steps"]:
        _do(account, fitter, path, step["number"])
        if step["hold_point"]:
            _release(account, supervisor, path, step["number"])
            looked_at += 1
    if fitter.get(path)["state"] == "in-progress":
        fitter.post(f"{path}/finish", key="finish", seen=path)
    kit = supervisor.get(f"kits/{account.found['kit']['kit']}")
    spare = next(one for one in kit["lines"] if one["role"] == "drain-plug-washer")
    if supervisor.get(path)["state"] == "awaiting-sign-off":
        body = {
            "returned": [{"part": spare["part"], "quantity": "1", "reason": "the old plug was left in place"}],
            "remark": "Quiet and tight at the run test.",
        }
        supervisor.post(f"{path}/sign-off", body, key="sign off", seen=path)
    signed = list(supervisor.all(f"{path}/sign-offs"))
    for one in signed:
        account.item(f"{one['kind'].replace('-', ' ')} signed by {one['by']} over {one['content_hash'][:23]}…")
    account.must(
        [one["kind"] for one in signed] == ["hold-point"] * looked_at + ["completion"],
        "a signature for each hold point and one for the job",
    )
    record = supervisor.get(f"{path}/record")
    account.item(f"link {record['link']['number']} of the chain of records, sealed with key {record['link']['key_id']}")
    account.must(record["verification"]["holds"] is True, "the record should hold")
    fitted = list(fitter.all(f"pumps/{job['pump']}/fitted-parts", job=job["id"]))
    account.say(
        f"{len(fitted)} parts are on the history of {job['pump_tag']}: "
        + "; ".join(position_words(one["role"]) for one in fitted)
    )
    account.must(len(fitted) == len(kit["lines"]) - 1, "everything but what came back was fitted")
    back = account.callers["tumas"].one("stock-balances", site=job["site"], item=spare["part"], condition="quarantined")
    account.say(f"{plain(back['on_hand'])} {spare['name']} came back and waits for a look.")
    account.must(supervisor.get(path)["state"] == "closed", "the job should be closed")


def _step(caller: Api, path: str, number: int) -> dict[str, Any]:
    return dict(caller.get(f"{path}/steps/{number}"))


def _asking_for(caller: Api, path: str, code: str) -> int:
    steps = caller.get(f"{path}/steps")["steps"]
    return int(next(one["number"] for one in steps if any(each["code"] == code for each in one["characteristics"])))


def _release(account: Account, supervisor: Api, path: str, number: int) -> None:
    where = f"{path}/steps/{number}"
    if _step(supervisor, path, number)["state"] == "awaiting-release":
        supervisor.post(
            f"{where}/release", {"remark": LOOKED_AT.get(number, "looked at")}, key=f"release {number}", seen=where
        )
    step = _step(supervisor, path, number)
    account.say(f"Hold point {number} ({step['title']}): done by {step['done_by']}, released by {step['released_by']}.")
    account.must(step["done_by"] != step["released_by"], "another person looks at a hold point")


def _do(account: Account, fitter: Api, path: str, number: int) -> None:
    """Measure what a step asks for and confirm it, unless that is done."""
    step = _step(fitter, path, number)
    if step["state"] != "open":
        return
    for asked in step["characteristics"]:
        if asked["code"] == RUN_OUT:
            continue
        done = [one["verdict"] for one in asked["measurements"]].count("accept")
        if done >= (2 if asked["code"] == WEARS else 1):
            continue
        tool, readings = _in_the_middle(account, fitter, asked)
        given = {one["name"]: GIVEN[one["name"]] for one in asked["asks"]["given"] if one["name"] in GIVEN}
        made = _measure(account, fitter, path, number, asked["code"], readings, tool, "", asked["asks"]["unit"], given)
        account.must(made["verdict"] == "accept", f"{asked['name']}: {made['verdict']} {made['reasons']}")
        account.item(f"{number} {asked['name']}: {_told(made, asked)}. {asked['words']}")
        for one in made["results"] if asked["code"] == ALIGNED else []:
            if one["name"].endswith(("-shims", "-move")):
                account.say(one["words"], indent=7)
        if asked["code"] == WEARS:
            made = _measure(account, fitter, path, number, WEARS, NEW_RING, tool, "new ring", asked["asks"]["unit"])
            account.item(f"{number} again with the new ring: {_told(made, asked)}")
    photos_are_attached(account, fitter, path, step)
    fitter.post(f"{path}/steps/{number}/confirm", key=f"confirm {number}")


def _told(measured: dict[str, Any], asked: dict[str, Any]) -> str:
    value = legible(Decimal(measured["value"]), asked["unit"])
    return f"{value} {unit_name(asked['unit'])}, {_verdict(measured)}"


def _verdict(measured: dict[str, Any]) -> str:
    return verdict_words(measured["verdict"], measured["lower"], measured["upper"])


def _in_the_middle(account: Account, fitter: Api, asked: dict[str, Any]) -> tuple[dict[str, Any], Any]:
    """An instrument in calibration whose range holds it, and readings well inside the limits."""
    if asked["code"] == WEARS:
        return next(_in_calibration(account, fitter, asked)), AS_FOUND
    if asked["rule"] in READ:
        return next(_in_calibration(account, fitter, asked)), READ[asked["rule"]]
    lower = None if asked["lower"] is None else float(asked["lower"])
    upper = None if asked["upper"] is None else float(asked["upper"])
    middle = (lower + upper) / 2 if lower is not None and upper is not None else 0.3 * (upper or 1.0)
    value = LIKELY.get(asked["code"], middle)
    if asked["rule"] == "total-indicator-reading":
        readings = [round(value * share, 3) for share in (0.0, 0.5, 1.0, 0.4)][: asked["readings"]]
    else:
        readings = [round(value, 3)] * asked["readings"]
    for tool in _in_calibration(account, fitter, asked):
        if float(tool["range_from"]) <= min(readings) and max(readings) <= float(tool["range_to"]):
            return tool, [str(one) for one in readings]
    account.must(False, f"no {asked['instrument_type']} at {STORY_SITE} measures {value} {asked['unit']}")
    raise AssertionError("not reached")


def _in_calibration(account: Account, fitter: Api, asked: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for tool in fitter.all("instruments", type=asked["instrument_type"], site=account.found["job"]["site"]):
        if tool["calibration_due"] >= account.today.isoformat():
            yield tool


def _measure(
    account: Account,
    fitter: Api,
    path: str,
    step: int,
    code: str,
    readings: Any,
    tool: dict[str, Any],
    name: str,
    unit: str = "mm",
    given: dict[str, str] | None = None,
) -> dict[str, Any]:
    """Record once: the id says which measurement it is, so a repeat returns the first record."""
    measurement = account.id_of(f"measured {code} {name}")
    asked = next(one for one in _step(fitter, path, step)["characteristics"] if one["code"] == code)
    for one in asked["measurements"]:
        if one["id"] == measurement:
            return dict(one)
    body = {
        "id": measurement,
        "step": step,
        "characteristic": code,
        "readings": readings,
        "unit": unit,
        "instrument": tool["id"],
        "given": given or {},
    }
    return dict(fitter.post(f"{path}/measurements", body, key=f"measure {code} {name}"))
