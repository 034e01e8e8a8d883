"""A whole overhaul for papers: 45 steps in six sections, measured, conceded, signed; and the pump's earlier ones."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from tests.jobs.calculations.made_up_work import WORK

UTC = datetime.UTC
BEGAN = datetime.datetime(2026, 12, 2, 7, 30, tzinfo=UTC)
# Section, title, instruction, signal word, caution, tools; the words are a workshop's own.
COUNT = 45
CONSUMABLES: dict[str, list[dict[str, str]]] = {
    "clean-and-inspect": [
        {"name": "lint-free cloth", "kind": "cloth", "note": ""},
        {"name": "approved cleaner", "kind": "cleaner", "note": "no chlorine"},
    ],
    "assemble": [{"name": "silicone grease", "kind": "lubricant", "note": "thin, on O-rings only"}],
}
PHOTOS = [
    {"shows": "the match marks", "needed": True},
    {"shows": "the old seal before it is touched", "needed": False},
]


def step(place: int, **changes: Any) -> dict[str, Any]:
    """The step of a place from 0 to 44; three rounds of the same work, each in its section."""
    part = WORK[place * len(WORK) // COUNT]
    section, title, instruction, word, caution, tools = part
    round_ = place % 3 + 1
    made = {
        "number": (place + 1) * 10,
        "section": section,
        "title": f"{title}, part {round_}",
        "instruction": instruction,
        "signal_word": word,
        "caution": f"{caution} ({place + 1})" if caution else "",
        "tools": tools,
        "consumables": CONSUMABLES.get(section, []),
        "photos": PHOTOS if place in {9, 21} else [],
        "look_at": "Bearing against its shoulder all round, marked side out." if place == 21 else "",
        "positions": ["bearing-de"] if "bearing" in title else [],
        "hold_point": place in {21, 38},
        "state": "not-applicable" if place == 32 else "open",
        "why": "elastomer is EPDM, not NBR" if place == 32 else "",
        "advice": [],
        "note": "",
        "characteristics": [],
        "done_by": None,
        "done_at": None,
        "released_by": None,
        "released_at": None,
    }
    return made | changes


def characteristic(name: str, unit: str, lower: str | None, upper: str | None, readings: int, **more: Any) -> Any:
    return {
        "code": name.lower().replace(" ", "-"),
        "name": name,
        "unit": unit,
        "lower": None if lower is None else Decimal(lower),
        "upper": None if upper is None else Decimal(upper),
        "words": "ISO 286 k5 on 40 mm." if "seat" in name else "",
        "readings": readings,
        "set_up": {},
        "second_instrument_type": "",
        "rule": {4: "total-indicator-reading", 1: "single"}.get(readings, "mean"),
        "instrument_type": "dial-indicator" if readings == 4 else "outside-micrometer",
        "decision_rule": "guard-band",
        "measurements": [],
        **more,
    }


ASKED: dict[int, list[tuple[str, str, str | None, str | None, int]]] = {
    21: [("Shaft run-out at the seal", "mm", None, "0.050000", 4)],
    24: [
        ("Bearing seat diameter, drive end", "mm", "40.002000", "40.013000", 3),
        ("Bearing seat diameter, other end", "mm", "40.002000", "40.013000", 3),
        ("Room temperature", "degC", "5.000000", "40.000000", 1),
    ],
    36: [("Torque of the casing screws", "N*m", "70.000000", "80.000000", 8)],
    42: [
        ("Vibration velocity, drive end, vertical", "mm/s", None, "2.800000", 1),
        ("Bearing temperature, drive end", "degC", None, "80.000000", 1),
    ],
}
LUBRICANTS = [
    {"kind": "lubricant", "lubricant": name.lower().replace(" ", "-"), "name": name, "verdict": verdict,
     "material": "EPDM", "note": note, "source": "common practice, no source", "differing": []}
    for name, verdict, note in (
        ("Soft soap", "ok", "Wipe off what is left."),
        ("Silicone grease", "ok", "Thinly; never on the seal faces."),
        ("Mineral grease", "forbidden", "EPDM swells and goes soft."),
    )
]  # fmt: skip


def steps() -> list[dict[str, Any]]:
    found = [step(place) for place in range(COUNT)]
    for place, asked in ASKED.items():
        found[place]["characteristics"] = [characteristic(*one) for one in asked]
    found[30]["advice"] = LUBRICANTS
    found[27]["advice"] = [
        {
            "kind": "bearing-heating",
            "sentence": "Heating is worked out once these are known: seat diameter, room temperature.",
            "waiting_for": ["seat-diameter", "room-temperature"],
        }
    ]
    return found


def job(**changes: Any) -> dict[str, Any]:
    made: dict[str, Any] = {
        "id": uuid.UUID(int=1), "number": "J-2026-00117", "state": "ready", "planned_start": BEGAN.date(),
        "planned_end": BEGAN.date() + datetime.timedelta(days=1), "assignee_name": "Ingrid Fell", "started_at": None,
        "finished_at": None, "closed_at": None, "updated_at": BEGAN, "site_code": "north",
        "site_name": "Fennmark North works", "site_time_zone": "Europe/Oslo", "pump_id": uuid.UUID(int=2),
        "pump_tag": "P-117", "pump_serial_number": "NB2019-0117",
        "pump_variant": {"elastomer": "EPDM", "seal-faces": "BQ1", "impeller-mm": "198"}, "pump_criticality": "vital",
        "pump_temperature_min_c": Decimal(60), "pump_temperature_max_c": Decimal(90), "fluid": "Heating water",
        "hazard": "Hot: scalds. Treated with inhibitor; see its safety data sheet.", "maker": "Norrvik Pumps",
        "model_series": "NB", "model_designation": "65-40-200", "model_configuration": "long-coupled-back-pull-out",
        "model_rated_speed_rpm": Decimal("2900.0"), "model_rated_power_kw": Decimal("15.000"),
        "model_shaft_diameter_at_seal_mm": Decimal("43.000"), "kit_id": uuid.UUID(int=3), "kit_number": "KIT-NB-40",
        "kit_revision": "B", "kit_name": "Overhaul kit NB 40, EPDM", "revision_revision": 4,
        "revision_content_hash": "sha256:" + "ab" * 32, "procedure_code": "PULL-OUT",
        "procedure_title": "Overhaul of a long-coupled back pull-out pump",
    }  # fmt: skip
    return made | changes


def kit() -> dict[str, Any]:
    parts = [
        ("casing-o-ring", "OR-226-E", "O-ring 226 EPDM 70"), ("shaft-seal", "MS-43-E", "Mechanical seal 43 BQ1EGG"),
        ("bearing-de", "BRG-6308", "Ball bearing 6308 C3"), ("bearing-nde", "BRG-6306", "Ball bearing 6306 C3"),
        ("cover-gasket", "GA-200", "Cover gasket 200, aramid fibre"), ("deflector", "DF-40", "Deflector 40"),
        ("drain-plug-washer", "WA-12", "Washer 12, copper"),
    ]  # fmt: skip
    return {
        "lines": [
            {"line": place, "role": role, "number": number, "name": name, "quantity": Decimal("1.000"),
             "optional": role == "drain-plug-washer"}
            for place, (role, number, name) in enumerate(parts, start=1)
        ],
        "held": [{"lot": "L-2026-014", "bin": "A-03", "expires_on": datetime.date(2031, 3, 31), "quantity": 1}],
        "issued": [],
    }  # fmt: skip


def sheet(**changes: Any) -> dict[str, Any]:
    """What `jobs.operations.job_sheets.sheet_data` gathers."""
    return {"job": job(), "kit": kit(), "steps": steps(), "unresolved": {}} | changes


def measurement(asked: dict[str, Any], value: str, uncertainty: str, verdict: str, attempt: int = 1) -> dict[str, Any]:
    return {
        "id": uuid.uuid5(uuid.NAMESPACE_OID, f"{asked['name']} {attempt}"), "attempt": attempt,
        "value": Decimal(value), "expanded_uncertainty": Decimal(uncertainty),
        "limits_unit": asked["unit"], "lower": asked["lower"], "upper": asked["upper"], "verdict": verdict,
        "room_left": Decimal("0.012000") if verdict == "accept" else Decimal("-0.003800"),
        "instrument": "DI-1" if asked["readings"] == 4 else "MIC-1", "second_instrument": None, "results": [],
        "by": "Ingrid Fell", "occurred_at": BEGAN + datetime.timedelta(hours=3, minutes=10 * attempt),
        "decision_rule": "guard-band",
    }  # fmt: skip


VALUES = {
    "Shaft run-out at the seal": [("0.090000", "0.004100", "reject"), ("0.031000", "0.004100", "accept")],
    "Bearing seat diameter, drive end": [("40.008333", "0.002300", "accept")],
    "Bearing seat diameter, other end": [("40.014500", "0.002300", "reject")],
    "Room temperature": [("18.200000", "0.510000", "accept")],
    "Torque of the casing screws": [("75.125000", "1.600000", "accept")],
    "Vibration velocity, drive end, vertical": [("1.640000", "0.160000", "accept")],
    "Bearing temperature, drive end": [("61.000000", "0.510000", "accept")],
}


def execution(at: datetime.datetime) -> dict[str, Any]:
    """What `jobs.queries.printed_execution.execution_of` gathers."""
    found = uuid.UUID(int=21)
    return {
        "findings": [
            {
                "id": found, "step_number": 160, "role": "bearing-de", "observed": "Outer raceway fluted.",
                "mode": "VIB", "mechanism": "4.0", "bearing_damage": "5.4", "cause": "Current through the bearing.",
                "replacement_reason": "failed", "occurred_at": at, "by__name": "Ingrid Fell",
            },
            {
                "id": uuid.UUID(int=22), "step_number": None, "role": "shaft-seal", "observed": "Bellows hard.",
                "mode": "ELP", "mechanism": "2.4", "bearing_damage": "", "cause": "", "replacement_reason": "",
                "occurred_at": at, "by__name": "Ingrid Fell",
            },
        ],
        "extra_parts": [
            {"role": "shaft", "part__number": "SH-40", "part__name": "Shaft 40", "quantity": Decimal("1.000"),
             "reason": "Seat worn.", "state": "taken", "taken_from": [{"lot": "L-77", "quantity": "1"}]},
        ],
        "returns": [
            {"item__number": "WA-12", "item__name": "Washer 12, copper", "lot__number": "L-88",
             "quantity": Decimal("1.000"), "condition": "quarantined", "reason": "The old plug stayed in.",
             "by__name": "Olav Brekke", "at": at},
        ],
        "work": {
            "minutes": 485,
            "by_section": [{"section": "dismantle", "minutes": 200}, {"section": "whole-job", "minutes": 285}],
            "by_step": [],
            "by_person": [{"person": "Ingrid Fell", "minutes": 485}],
        },
        "attachments": [
            {"name": "raceway.jpg", "caption": "outer ring, load zone", "step_number": None, "finding_id": found,
             "finding__role": "bearing-de", "file__sha256": "5a" * 32, "by__name": "Ingrid Fell"},
        ],
        "offline_records": [
            {"kind": "measurement", "occurred_at": at, "state": "set-aside", "sentence": "It was measured twice.",
             "content": {"step": 220, "characteristic": "shaft-run-out", "readings": ["0.01", "0.06"], "unit": "mm"},
             "by__name": "Ingrid Fell", "settled_by__name": "Olav Brekke", "settled_because": "The first one stands."},
        ],
    }  # fmt: skip


def record(**changes: Any) -> dict[str, Any]:
    """What `jobs.queries.printed_jobs.record_data` gathers for a closed job."""
    done = steps()
    for place, one in enumerate(done):
        if one["state"] == "not-applicable":
            continue
        one |= {
            "state": "done", "done_by": "Ingrid Fell", "done_at": BEGAN + datetime.timedelta(minutes=12 * place),
            "note": "Light scores, dressed with fine stone." if place == 19 else "",
        }  # fmt: skip
        if one["hold_point"]:
            one |= {"released_by": "Olav Brekke", "released_at": one["done_at"] + datetime.timedelta(minutes=9)}
        for asked in one["characteristics"]:
            asked["measurements"] = [
                measurement(asked, *values, attempt=attempt)
                for attempt, values in enumerate(VALUES[asked["name"]], start=1)
            ]
    conceded = uuid.UUID(int=9)
    at = BEGAN + datetime.timedelta(hours=10)
    return {
        "job": job(state="closed", started_at=BEGAN, finished_at=at, closed_at=at),
        "steps": done,
        "kit": kit(),
        "fitted": [
            {"role": one["role"], "part__number": one["number"], "part__name": one["name"],
             "quantity": one["quantity"], "lot__number": "L-2026-014"}
            for one in kit()["lines"][:6]
        ],
        "removed": [
            {"role": one["role"], "part__number": one["number"], "quantity": one["quantity"],
             "fitted_at": BEGAN - datetime.timedelta(days=720), "removed_condition": "", "job__number": "J-2024-00031"}
            for one in kit()["lines"][:4]
        ],
        "nonconformities": [
            {"id": uuid.UUID(int=8), "description": "Shaft run-out: 0.09 mm was rejected (at most 0.05 mm).",
             "role": "", "disposition": "rework", "state": "closed", "decision_reason": "Straighten, measure again.",
             "extent": "", "measurement_id": None, "raised_by__name": "Ingrid Fell",
             "decided_by__name": "Olav Brekke", "decided_at": at,
             "job_characteristic__job_step__number": 220},
            {"id": conceded, "description": "Bearing seat: 40.0145 mm was rejected (40.002 to 40.013 mm).",
             "role": "", "disposition": "use-as-is", "state": "closed",
             "decision_reason": "Heavier fit by 1.5 µm; bearing clearance C3 takes it up.",
             "extent": "This shaft, until the next overhaul; then renew the shaft.",
             "measurement_id": uuid.uuid5(uuid.NAMESPACE_OID, "Bearing seat diameter, other end 1"),
             "raised_by__name": "Ingrid Fell", "decided_by__name": "Olav Brekke", "decided_at": at,
             "job_characteristic__job_step__number": 250},
        ],
        "signatures": [
            {"kind": "hold-point", "step_number": 220, "nonconformity_id": None, "by__name": "Olav Brekke",
             "role": "supervisor", "at": at, "content_hash": "sha256:" + "12" * 32, "remark": "Looked at it."},
            {"kind": "concession", "step_number": None, "nonconformity_id": conceded, "by__name": "Olav Brekke",
             "role": "supervisor", "at": at, "content_hash": "sha256:" + "34" * 32, "remark": ""},
            {"kind": "completion", "step_number": None, "nonconformity_id": None, "by__name": "Tuva Moen",
             "role": "supervisor", "at": at, "content_hash": "sha256:" + "9f" * 32,
             "remark": "Quiet and tight at the run test."},
        ],
        **execution(at),
        "link": {"number": 42, "mac": "c0" * 32, "key_id": "2026-a", "content_hash": "sha256:" + "9f" * 32},
        "earlier": [
            {
                "name": name, "unit": unit, "lower": lower and Decimal(lower), "upper": upper and Decimal(upper),
                "points": [
                    {"value": Decimal(value), "expanded_uncertainty": Decimal(uncertainty),
                     "occurred_at": BEGAN - datetime.timedelta(days=400 * (len(values) - place - 1))}
                    for place, value in enumerate(values)
                ],
            }
            for name, unit, lower, upper, uncertainty, values in (
                ("Shaft run-out at the seal", "mm", None, "0.05", "0.0041", ["0.012", "0.019", "0.022", "0.031"]),
                ("Bearing seat diameter, drive end", "mm", "40.002", "40.013", "0.0023",
                 ["40.011", "40.0102", "40.0083"]),
                ("Vibration velocity, drive end, vertical", "mm/s", None, "2.8", "0.16", ["1.1", "1.64"]),
            )
        ],
    } | changes  # fmt: skip
