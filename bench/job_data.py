"""Jobs under way of 60 steps and 200 characteristics each, made in the database, and what a day on them without a
connection brings: readings, some of them bad and taken again, and steps confirmed. Names and figures are invented."""

import datetime
import random
import uuid
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from django.db import connection
from django.utils import timezone

from assets.access import narrow
from assets.models import Pump
from jobs.models import Instrument
from services.api.identifiers import new_id
from services.identity.callers import Caller

STEPS, SAFE_STEPS, FIRST_MEASURED, EACH = 60, 5, 11, 4
READ_AGAIN, READ_AGAIN_MORE, JOBS_WITH_MORE, JOBS = 3, 4, 6, 38
RECORDS = 10_000
PROCEDURE = f"""
    INSERT INTO jobs_procedure (id, version, code, title, configuration, scope_words)
    VALUES (gen_random_uuid(), 1, 'WORKED', 'Worked on', 'in-line', '');
    INSERT INTO jobs_procedurerevision (id, version, procedure_id, revision, state, prepared_by, content_hash)
    SELECT gen_random_uuid(), 1, id, 1, 'draft', '', '' FROM jobs_procedure WHERE code = 'WORKED';
    INSERT INTO jobs_step (id, revision_id, number, section, title, instruction, signal_word, caution, tools,
                           consumables, positions, conditions, hold_point, achieves, photos)
    SELECT gen_random_uuid(), r.id, n, CASE WHEN n <= {SAFE_STEPS} THEN 'make-safe' ELSE 'clean-and-inspect' END,
           'Step ' || n, 'Clean the part, look at it in good light and measure where the drawing says.', 'warning',
           'Edges are sharp. Wear gloves.', '["wrench"]', '[]', '[]', '[]', false, '[]', '[]'
    FROM jobs_procedurerevision r JOIN jobs_procedure p ON p.id = r.procedure_id, generate_series(1, {STEPS}) n
    WHERE p.code = 'WORKED';
    INSERT INTO jobs_characteristic (id, step_id, code, name, quantity, unit, readings, rule, limits, set_up,
                                     instrument_type, decision_rule)
    SELECT gen_random_uuid(), s.id, k.code || '-' || s.number, k.name || ' ' || s.number, 'length', 'mm', k.readings,
           k.rule, '{{}}', k.set_up, k.tool, 'guard-band'
    FROM jobs_step s JOIN jobs_procedurerevision r ON r.id = s.revision_id
         JOIN jobs_procedure p ON p.id = r.procedure_id,
         (VALUES ('run-out', 'Run-out', 4, 'total-indicator-reading', '{{}}'::jsonb, 'dial-indicator'),
                 ('gap', 'Gap', 1, 'single', '{{}}', 'dial-indicator'),
                 ('seat', 'Seat', 3, 'mean', '{{}}', 'outside-micrometer'),
                 ('ring', 'Ring', 3, 'diameter', '{{"material": "bronze"}}', 'outside-micrometer')
         ) k (code, name, readings, rule, set_up, tool)
    WHERE p.code = 'WORKED' AND s.number >= {FIRST_MEASURED};
    UPDATE jobs_procedurerevision SET state = 'in-review'
    WHERE procedure_id = (SELECT id FROM jobs_procedure WHERE code = 'WORKED');
    UPDATE jobs_procedurerevision SET state = 'reviewed', reviewed_at = now(), reviewed_by_id = %(by)s
    WHERE procedure_id = (SELECT id FROM jobs_procedure WHERE code = 'WORKED');
    UPDATE jobs_procedurerevision SET state = 'published', published_at = now()
    WHERE procedure_id = (SELECT id FROM jobs_procedure WHERE code = 'WORKED')
"""
STARTED = """
    CREATE TEMPORARY TABLE started AS
    SELECT gen_random_uuid() AS id, gen_random_uuid() AS pump_id, n FROM generate_series(1, %(jobs)s) n;
    INSERT INTO assets_pump (id, version, site_id, pump_model_id, fluid_id, tag, serial_number, variant,
                             temperature_min_c, temperature_max_c, criticality, state, installed_on, external_ids)
    SELECT d.pump_id, 1, b.site_id, b.pump_model_id, b.fluid_id, 'W-' || n, 'W' || n, '{}', 5, 60, 'vital',
           'in-service', current_date - 3650, '{}'
    FROM started d, (SELECT site_id, pump_model_id, fluid_id FROM assets_pump WHERE site_id = %(site)s LIMIT 1) b;
    INSERT INTO jobs_job (id, version, number, pump_id, site_id, revision_id, kit_id, planned_start, planned_end, state,
                          held_from, state_reasons, repeats, takes_kit, started_at, planned_by_id)
    SELECT d.id, 1, 'W-' || n, pump_id, %(site)s, r.id, (SELECT item_id FROM kits_kit LIMIT 1), current_date,
           current_date, 'in-progress', '', '[]', '[]', true, now() - interval '1 day', %(by)s
    FROM started d, jobs_procedurerevision r JOIN jobs_procedure p ON p.id = r.procedure_id WHERE p.code = 'WORKED';
    INSERT INTO jobs_jobstep (id, version, job_id, step_id, number, section, state, why, advice, note)
    SELECT gen_random_uuid(), 1, j.id, s.id, s.number, s.section, 'open', '', '[]', ''
    FROM jobs_job j JOIN started USING (id) JOIN jobs_step s ON s.revision_id = j.revision_id;
    INSERT INTO jobs_jobcharacteristic (id, job_step_id, job_id, characteristic_id, code, lower, upper, unit, words)
    SELECT gen_random_uuid(), t.id, t.job_id, c.id, c.code,
           CASE c.rule WHEN 'mean' THEN 39.95 WHEN 'diameter' THEN 89.9 END,
           CASE c.rule WHEN 'mean' THEN 40.05 WHEN 'diameter' THEN 90.1 WHEN 'single' THEN 0.5 ELSE 0.05 END, 'mm', ''
    FROM jobs_jobstep t JOIN started d ON d.id = t.job_id JOIN jobs_characteristic c ON c.step_id = t.step_id
"""


def jobs_under_way(sets: int, *, by: Caller) -> list[list[uuid.UUID]]:
    """So many times 38 jobs of one procedure, begun a day ago at a site where the caller is a fitter."""
    site = narrow(Pump.objects.all(), by, "fitter").order_by("tag").values_list("site_id", flat=True)[0]
    for number, kind in (("W-DIAL", "dial-indicator"), ("W-MICROMETER", "outside-micrometer")):
        Instrument.objects.create(
            number=number, type=kind, site_id=site, unit="mm", range_from=Decimal(0), range_to=Decimal(100),
            resolution=Decimal("0.001"), expanded_uncertainty=Decimal("0.002"),
            calibrated_on=timezone.now().date() - datetime.timedelta(days=300),
            calibration_due=timezone.now().date() + datetime.timedelta(days=60),
        )  # fmt: skip
    with connection.cursor() as cursor:
        for one in [*PROCEDURE.split(";"), *STARTED.split(";")]:
            cursor.execute(one, {"jobs": sets * JOBS, "site": site, "by": by.id})
        cursor.execute("SELECT id FROM started ORDER BY n")
        ids = [row[0] for row in cursor.fetchall()]
        cursor.execute("DROP TABLE started")
        cursor.execute("ANALYZE")
    return [ids[start : start + JOBS] for start in range(0, len(ids), JOBS)]


def day_on(jobs: Sequence[uuid.UUID]) -> list[dict[str, Any]]:
    """Ten thousand records of 38 jobs, as a device sends them, in no order."""
    chance = random.Random(5)
    tools = {one.type: str(one.pk) for one in Instrument.objects.filter(number__startswith="W-")}
    found = [
        record
        for place, job in enumerate(jobs)
        for record in _day_on_one(job, tools, READ_AGAIN_MORE if place < JOBS_WITH_MORE else READ_AGAIN, chance)
    ]
    assert len(found) == RECORDS, len(found)
    chance.shuffle(found)
    return found


def _day_on_one(
    job: uuid.UUID, tools: dict[str, str], read_again: int, chance: random.Random
) -> Iterator[dict[str, Any]]:
    at = timezone.now() - datetime.timedelta(hours=12)
    bad = set(chance.sample(range(FIRST_MEASURED, STEPS + 1), read_again))
    for step in range(1, STEPS + 1):
        at += datetime.timedelta(minutes=10)
        head = {"job": str(job), "step": step}
        for place, (characteristic, content) in enumerate(_readings(step, tools, chance) if step >= 11 else []):
            measured = head | {"kind": "measurement", "unit": "mm", "characteristic": characteristic} | content
            if step in bad and place == 0:
                worse = {"readings": ["0.00", "0.08", "0.11", "0.02"], "unit": "mm"}
                yield measured | worse | _moment(at)
            yield measured | _moment(at + datetime.timedelta(minutes=1 + place))
        yield head | {"kind": "step-confirmation"} | _moment(at + datetime.timedelta(minutes=8))


def _moment(at: datetime.datetime) -> dict[str, str]:
    return {"id": str(new_id()), "occurred_at": at.isoformat()}


def _readings(step: int, tools: dict[str, str], chance: random.Random) -> list[tuple[str, dict[str, Any]]]:
    """The four characteristics of a step; every fifth run-out is read in micrometres."""
    dial, micrometer = {"instrument": tools["dial-indicator"]}, {"instrument": tools["outside-micrometer"]}
    swing = [chance.randint(0, 30) for _ in range(4)]
    run_out: dict[str, Any] = {"readings": [f"{one / 1000:.3f}" for one in swing]}
    if step % 5 == 0:
        run_out = {"readings": [str(one) for one in swing], "unit": "um"}
    return [
        (f"run-out-{step}", run_out | dial),
        (f"gap-{step}", {"readings": [f"0.{chance.randint(100, 400)}"]} | dial),
        (f"seat-{step}", {"readings": [f"{40 + chance.randint(-9, 9) / 1000:.3f}" for _ in range(3)]} | micrometer),
        (
            f"ring-{step}",
            {
                "readings": [f"{90 + chance.randint(-9, 9) / 1000:.3f}" for _ in range(3)],
                "given": {"temperature_c": str(chance.randint(15, 28))},
            }
            | micrometer,
        ),
    ]
