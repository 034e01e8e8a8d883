"""The account's steps about what is kept of the work: findings and photos, time, offline records, papers."""

import base64
import datetime
import hashlib
import io
import re
from typing import Any

from PIL import Image, ImageDraw

from assets.calculations.position_words import position_words
from services.demo.account import Account
from services.demo.api_client import Api

BEARING_STEP, SEAL_STEP = 216, 218
BOOKED = ((110, 95, "guard, spacer, pull-out unit"), (BEARING_STEP, 70, "cleaned and looked over"))
FINDING = {
    "role": "bearing-de",
    "observed": "Both raceways dull and rust brown, cage sound.",
    "mode": "NOI",
    "mechanism": "2.2",
    "bearing_damage": "5.3",
    "cause": "water in the oil",
    "replacement_reason": "worn",
    "step": BEARING_STEP,
}


def photos_are_attached(account: Account, fitter: Api, path: str, step: dict[str, Any]) -> None:
    """Those that the procedure insists on at a step, unless they are there."""
    wanted = [one["shows"] for one in step["photos"] if one["needed"]]
    there = len(list(fitter.all(f"{path}/attachments", step=step["number"]))) if wanted else 0
    for shows in wanted[there:]:
        body = _photo(account, f"step {step['number']} {shows}") | {"step": step["number"], "caption": shows}
        made = fitter.post(f"{path}/attachments", body, key=f"photo {step['number']} {shows}")
        account.item(f"{step['number']} photo of {shows}: {made['name']}, {made['size']} bytes, {_short(made)}")


def what_was_found(account: Account) -> None:
    """Step 6: a finding in codes of open standards with its photo, and the time that was booked."""
    account.heading(6, "What was found, and the time it took")
    fitter, job = account.callers["runa"], account.found["job"]
    path = f"jobs/{job['id']}"
    finding = account.id_of("finding bearing")
    if _under_way(fitter, path):
        fitter.post(f"{path}/findings", FINDING | {"id": finding}, key="finding bearing")
        body = _photo(account, "raceway") | {"finding": finding, "caption": "outer raceway, load zone"}
        fitter.post(f"{path}/attachments", body, key="photo finding")
        for step, minutes, note in BOOKED:
            row = {"id": account.id_of(f"booked {step}"), "step": step, "minutes": minutes, "note": note}
            fitter.post(f"{path}/work", row, key=f"booked {step}")
    words = {(one["table"], one["code"]): one["words"] for one in fitter.get("failure-codes")["codes"]}
    kept = next(one for one in fitter.all(f"{path}/findings") if one["id"] == finding)
    account.say(f"{position_words(kept['role'])}, step {kept['step']}: {kept['observed']} Cause: {kept['cause']}.")
    for table, name in (
        ("failure-mode", "mode"),
        ("failure-mechanism", "mechanism"),
        ("bearing-damage", "bearing_damage"),
    ):
        account.item(f"{table.replace('-', ' ')} {kept[name]}: {words[table, kept[name]]}")
    photo = next(fitter.all(f"{path}/attachments", finding=finding))
    account.item(f"photo {photo['name']}: {photo['caption']}, {_short(photo)}")
    account.must(kept["bearing_damage"] == "5.3", "the finding should say corrosion")
    totals = fitter.get(f"{path}/work-totals")
    sections = ", ".join(f"{one['section']} {one['minutes']} min" for one in totals["by_section"])
    account.say(f"Booked so far: {totals['minutes']} min ({sections}).")
    account.must(totals["minutes"] >= sum(one[1] for one in BOOKED), "the booked time should be there")


def worked_without_connection(account: Account) -> None:
    """Step 7: one piece to take along, and records that come back twice with the same end."""
    account.heading(7, "Without a connection")
    fitter, job = account.callers["runa"], account.found["job"]
    path = f"jobs/{job['id']}"
    if _under_way(fitter, path):
        bundle = fitter.get("work-bundle", of_everybody="true", site=job["site"])
        mine = next(one for one in bundle["jobs"] if one["id"] == job["id"])
        tag = {"If-None-Match": f'"{bundle["version"]}"'}
        again = fitter.call("GET", f"work-bundle?of_everybody=true&site={job['site']}", headers=tag)
        account.say(
            f"The work bundle holds {len(bundle['jobs'])} jobs, {mine['number']} with {len(mine['steps'])} steps and "
            f"{len(mine['kit_lines'])} lines of its kit, version {bundle['version'][:12]}…; asked again with that "
            f"version the answer is {again.status}."
        )
        account.must(again.status == 304, "an unchanged bundle should not come twice")
        first = _handed_in(account, fitter, job, path)
        before = _what_stands(fitter, path)
        second = _handed_in(account, fitter, job, path)
        account.item(f"handed in: {_counts(first)}; once more: {_counts(second)}")
        account.must(set(second) == {"known"}, "records that came already should be known")
        account.must(_what_stands(fitter, path) == before, "the same records again should change nothing")
    records = list(fitter.all("offline-records", job=job["id"]))
    for one in sorted(records, key=lambda one: str(one["kind"])):
        account.item(f"{one['kind'].replace('-', ' ')} by {one['by']} on {one['device']}: {one['state']}")
    account.must([one["state"] for one in records] == ["applied"] * 2, "both offline records should be applied")


def papers_are_kept(account: Account) -> None:
    """Step 9: the job sheet and the overhaul record as PDF, the record proved by its hash."""
    account.heading(9, "On paper, and proved")
    supervisor, job = account.callers["eydis"], account.found["job"]
    path = f"jobs/{job['id']}"
    for name, query in (("job-sheet", "paper=letter&units=inch"), ("overhaul-record", "paper=a4&units=metric")):
        pdf, again = (_paper(account, supervisor, f"{path}/{name}?{query}") for _ in range(2))
        account.must(pdf == again, f"{name}: the same paper twice should be the same bytes")
        digest = hashlib.sha256(pdf).hexdigest()
        account.item(
            f"{name.replace('-', ' ')} ({query.replace('&', ', ')}): {_pages(pdf)} pages, sha256:{digest[:16]}…"
        )
        account.must(_pages(pdf) > 3, f"{name} should have more than three pages")
    signed = supervisor.get(f"{path}/record")
    found = supervisor.get(f"record-verifications/{signed['content_hash'].removeprefix('sha256:')}")
    account.say(
        f"Record {signed['content_hash'][:23]}… of {found['number']}, {found['pump_tag']}, signed by "
        f"{found['signed_by']}: {found['verification']['words']}"
    )
    for name in ("findings", "attachments", "work", "offline_records"):
        account.item(f"{name.replace('_', ' ')} in it: {len(signed['content'][name])}")
    account.must(found["verification"]["holds"] is True, "the record should hold")


def _under_way(fitter: Api, path: str) -> bool:
    return bool(fitter.get(path)["state"] == "in-progress")


def _photo(account: Account, of_what: str) -> dict[str, str]:
    """A picture made here, of this run only: a band of colour with the words on it."""
    picture = Image.new("RGB", (480, 320), (92, 84, 78))
    pen = ImageDraw.Draw(picture)
    pen.ellipse((110, 40, 370, 300), outline=(170, 120, 70), width=26)
    pen.text((12, 8), f"{of_what} {str(account.run)[:8]}", fill=(240, 240, 240))
    held = io.BytesIO()
    picture.save(held, "PNG")
    name = re.sub(r"[^a-z0-9]+", "-", of_what.lower()).strip("-")[:60]
    return {
        "id": account.id_of(f"photo {of_what}"),
        "name": f"{name}.png",
        "content": base64.b64encode(held.getvalue()).decode(),
    }


def _short(attachment: dict[str, Any]) -> str:
    return f"sha256:{attachment['sha256'].removeprefix('sha256:')[:16]}…"


def _handed_in(account: Account, fitter: Api, job: dict[str, Any], path: str) -> dict[str, int]:
    """The same two records each time, in the wrong order; how many ended in which way."""
    done = fitter.get(f"{path}/steps/{SEAL_STEP}")["done_at"]
    at = datetime.datetime.fromisoformat(done)
    records = [
        {"kind": "work-booking", "minutes": 40, "step": SEAL_STEP, "note": "in the pump room"},
        {
            "kind": "finding", "role": "shaft-seal", "observed": "Seat's face chipped at its edge, bellows hard.",
            "mode": "ELP", "mechanism": "2.4", "replacement_reason": "worn", "step": SEAL_STEP,
        },
    ]  # fmt: skip
    batch = [
        {"id": account.id_of(f"offline {one['kind']}"), "job": job["id"], "occurred_at": at.isoformat(), **one}
        for one in records
    ]
    answer = fitter.post("offline-records", {"device": "a phone", "records": batch}, key="offline", status=200)
    return dict(answer["counts"])


def _what_stands(fitter: Api, path: str) -> tuple[Any, Any]:
    return list(fitter.all(f"{path}/findings")), fitter.get(f"{path}/work-totals")


def _counts(counts: dict[str, int]) -> str:
    return ", ".join(f"{count} {name}" for name, count in sorted(counts.items()))


def _paper(account: Account, caller: Api, path: str) -> bytes:
    answer = caller.call("GET", path, headers={"Accept": "application/pdf"})
    account.must(answer.status == 200 and answer.raw.startswith(b"%PDF-"), f"{path}: {answer.status} {answer.body}")
    return answer.raw


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))
