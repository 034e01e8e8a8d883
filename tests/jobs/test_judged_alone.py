"""A phone judges from the job sheet by docs/measuring.md alone, and gets the service's verdict."""

import math
from typing import Any

import pytest
from django.db import transaction

from jobs.operations.procedures import draft_revision
from tests.jobs.test_measuring import ALIGNMENT, CLEARANCE, RUN_OUT, document
from tests.overhauls import TODAY, hands, make_instrument, open_workshop, release_procedure
from tests.world import gather_cast

pytestmark = pytest.mark.django_db

# Table of docs/measuring.md, k for a share of 95.45 %; between two entries the smaller number of degrees counts here.
FACTORS = {1: 13.97, 2: 4.53, 3: 3.31, 4: 2.87, 5: 2.65, 6: 2.52, 7: 2.43, 8: 2.37, 10: 2.28, 12: 2.23, 16: 2.17,
           20: 2.13, 30: 2.09, 50: 2.05}  # fmt: skip
PER_K = {"steel": 11.5e-6, "bronze": 17.5e-6}
SEAT = {
    "code": "seat",
    "name": "Seat",
    "quantity": "length",
    "unit": "mm",
    "readings": 3,
    "rule": "mean",
    "limits": {"kind": "numbers", "lower": "40.002", "upper": "40.013"},
    "instrument_type": "outside-micrometer",
}
Lines = list[tuple[float, float | None]]


def instrument(tool: dict[str, Any], weight: float) -> Lines:
    step, certificate = float(tool["resolution"]), float(tool["expanded_uncertainty"])
    return [(weight * certificate / 2, None), (weight * step / math.sqrt(12), None)]


def scatter(rows: list[float]) -> Lines:
    middle = sum(rows) / len(rows)
    spread = math.sqrt(sum((one - middle) ** 2 for one in rows) / (len(rows) - 1) / len(rows))
    return [(spread, len(rows) - 1)] if len(rows) > 1 else []


def half(width: float, weight: float) -> tuple[float, None]:
    return abs(weight) * width / math.sqrt(3), None


def at_20(rows: list[float], warm: float, per_k: float, tool: dict[str, Any]) -> tuple[float, Lines]:
    length, over = sum(rows) / len(rows), warm - 20
    lines = instrument(tool, 1) + scatter(rows)
    lines += [half(1, length * 11.5e-6), half(1, length * (per_k - 11.5e-6)), half(1e-6, length * over)]
    return length * (1 + 11.5e-6 * over - per_k * over), lines


def angularity(
    readings: dict[str, list[float]], sag: float, distance: float, tool: dict[str, Any]
) -> tuple[float, Lines]:
    first, second = readings["stationary_hub"], readings["movable_hub"]
    up = ((second[0] - second[2] + sag) - (first[2] - sag - first[0])) / 2 / distance * 100
    right = ((second[1] - second[3]) - (first[3] - first[1])) / 2 / distance * 100
    both = math.hypot(up, right)
    lines: Lines = []
    for rows in (first, second):
        lines += instrument(tool, 100 / distance / math.sqrt(2))
        lines.append(half(abs(rows[0] + rows[2] - rows[1] - rows[3]), 100 / distance / 2))
    lines += [half(0.005, 100 / distance * up / both), half(1, both / distance)]
    return both, lines


def verdict(asked: dict[str, Any], value: float, lines: Lines) -> tuple[float, float, str]:
    u = math.sqrt(sum(one**2 for one, _ in lines))
    scattered = sum(one**4 / degrees for one, degrees in lines if degrees)
    degrees = u**4 / scattered if scattered else math.inf
    known = [one for one in FACTORS if one <= degrees]
    expanded = u * (2.0 if degrees > 100 else FACTORS[max(known)])
    guard = float(asked["guard_factor"]) / 2 * expanded
    room = [value - float(asked["lower"])] if asked["lower"] is not None else []
    room += [float(asked["upper"]) - value] if asked["upper"] is not None else []
    inside = min(room)
    return value, expanded, "accept" if inside >= guard else "reject" if inside < -guard else "not-proved"


@pytest.fixture
def sheet_and_hand():
    cast = gather_cast()
    workshop = open_workshop(cast)
    make_instrument(cast, "BG-1", "bore-gauge")
    hand = hands(cast)
    with transaction.atomic():
        revision_id, _ = draft_revision(
            by=cast.by("procedure-author"), document=document(CLEARANCE, ALIGNMENT, RUN_OUT, SEAT)
        )
        release_procedure(cast, revision_id)
    body = {"pump": str(workshop.pump.pk), "kit": str(workshop.kit.pk), "planned_start": TODAY.isoformat()}
    job = hand["planner"].post("jobs", body, status=201)
    hand["planner"].post(f"jobs/{job['id']}/reserve-kit")
    hand["fitter"].post(f"jobs/{job['id']}/start", seen=f"jobs/{job['id']}")
    return hand["fitter"].get(f"jobs/{job['id']}/steps"), hand["fitter"]


def test_the_sheet_is_enough_to_judge_alone(sheet_and_hand):
    sheet, fitter = sheet_and_hand
    tools = {one["number"]: one for one in sheet["instruments"]}
    step = next(one for one in sheet["steps"] if one["number"] == 25)
    asked = {one["code"]: one for one in step["characteristics"]}
    gauge, micrometer, dial = tools["BG-1"], tools["MIC-1"], tools["DI-1"]
    seats = ([40.008, 40.008, 40.008], [40.004, 40.006, 40.008], [40.013, 40.012, 40.011], [40.02, 40.021, 40.02])
    cases: list[tuple[str, Any, dict[str, str], list[Any], tuple[float, Lines]]] = [
        ("seat", rows, {}, [micrometer], (sum(rows) / 3, instrument(micrometer, 1) + scatter(rows))) for rows in seats
    ]
    for rows in ([0.0, 0.01, 0.02, -0.01], [0.0, 0.06, 0.01, 0.01]):
        worked = max(rows) - min(rows), instrument(dial, math.sqrt(2))
        cases.append(("face-run-out", rows, {}, [dial], worked))
    for bore, shaft, warm in (([90.52, 90.521], [90.01, 90.01], 28.0), ([90.42, 90.42], [90.01, 90.02], 20.0)):
        one, lines = at_20(bore, warm, PER_K["bronze"], gauge)
        other, more = at_20(shaft, warm, PER_K["steel"], micrometer)
        given = {"bore_temperature_c": str(warm), "shaft_temperature_c": str(warm)}
        read = {"bore": bore, "shaft": shaft}
        cases.append(("ring-clearance", read, given, [gauge, micrometer], (one - other, lines + more)))
    for bottom in (-0.34, -0.37, -0.42):
        turned = {"stationary_hub": [0, 0.07, 0.14, 0.08], "movable_hub": [0, -0.17, bottom, round(bottom + 0.16, 2)]}
        worked = angularity(turned, -0.04, 120, dial)
        cases.append(("coupling-angularity", turned, {"sag_mm": "-0.04"}, [dial], worked))
    seen = set()
    for code, readings, given, used, worked in cases:
        value, expanded, expected = verdict(asked[code], *worked)
        body: dict[str, Any] = {
            "characteristic": asked[code]["id"],
            "readings": readings,
            "unit": "mm",
            "given": given,
            "instrument": used[0]["id"],
        }
        if len(used) > 1:
            body["second_instrument"] = used[1]["id"]
        answer = fitter.post("judgements", body)
        assert float(answer["value"]) == pytest.approx(value, abs=2e-6), code
        assert float(answer["expanded_uncertainty"]) == pytest.approx(expanded, rel=0.03), code
        assert answer["verdict"] == expected, (code, readings, answer["reasons"])
        seen.add(expected)
    assert seen == {"accept", "reject", "not-proved"}
