"""A million measurements of overhauls, made in the database: 500 pumps of one model, ten overhauls each, 200 values an
overhaul. Names and figures are invented."""

import uuid

from django.db import connection

PUMPS, OVERHAULS, STEPS, EACH = 500, 10, 50, 4
CODE = "gap-7-1"

STATEMENTS = (
    """
    INSERT INTO jobs_procedure (id, version, code, title, configuration, scope_words)
    VALUES (gen_random_uuid(), 1, 'MEASURED', 'Measured', 'in-line', '')
    """,
    """
    INSERT INTO jobs_procedurerevision (id, version, procedure_id, revision, state, prepared_by, content_hash)
    SELECT gen_random_uuid(), 1, id, 1, 'draft', '', '' FROM jobs_procedure WHERE code = 'MEASURED'
    """,
    """
    CREATE TEMPORARY TABLE made AS
    SELECT r.id AS revision_id, gen_random_uuid() AS step_id, n AS step
    FROM jobs_procedurerevision r JOIN jobs_procedure p ON p.id = r.procedure_id, generate_series(1, %(steps)s) n
    WHERE p.code = 'MEASURED'
    """,
    """
    INSERT INTO jobs_step (id, revision_id, number, section, title, instruction, signal_word, caution, tools,
                           consumables, positions, conditions, hold_point, achieves, photos)
    SELECT step_id, revision_id, step, 'clean-and-inspect', 'Measure', 'Measure.', '', '', '[]', '[]',
           CASE WHEN step %% 10 = 7 THEN '["wear-ring-casing"]' ELSE '[]' END::jsonb, '[]', false, '[]', '[]'
    FROM made
    """,
    """
    CREATE TEMPORARY TABLE asked AS
    SELECT gen_random_uuid() AS id, step_id, step, n, 'gap-' || step || '-' || n AS code
    FROM made, generate_series(1, %(each)s) n
    """,
    """
    INSERT INTO jobs_characteristic (id, step_id, code, name, quantity, unit, readings, rule, limits, instrument_type,
                                     decision_rule)
    SELECT id, step_id, code, 'Gap ' || step || '.' || n, 'length', 'mm', 1, 'single', '{}', 'feeler-gauge', 'simple'
    FROM asked
    """,
    *(
        f"UPDATE jobs_procedurerevision SET {changed} WHERE id = (SELECT revision_id FROM made LIMIT 1)"
        for changed in (
            "state = 'in-review'",
            "state = 'reviewed', reviewed_at = now(), reviewed_by_id = %(by)s",
            "state = 'published', published_at = now()",
        )
    ),
    """
    CREATE TEMPORARY TABLE measured_pumps AS
    SELECT gen_random_uuid() AS id, b.site_id, b.pump_model_id, b.fluid_id, n
    FROM (SELECT site_id, pump_model_id, fluid_id FROM assets_pump ORDER BY tag LIMIT 1) b,
         generate_series(1, %(pumps)s) n
    """,
    """
    INSERT INTO assets_pump (id, version, site_id, pump_model_id, fluid_id, tag, serial_number, variant,
                             temperature_min_c, temperature_max_c, criticality, state, installed_on, external_ids)
    SELECT id, 1, site_id, pump_model_id, fluid_id, 'M-' || n, 'M' || n, '{}', 5, 60, 'vital', 'in-service',
           current_date - 3650, '{}' FROM measured_pumps
    """,
    """
    INSERT INTO assets_runninghours (id, pump_id, read_at, hours, meter_change)
    SELECT gen_random_uuid(), id, now() - (3650 - 73 * k) * interval '1 day', 73 * 20 * k, false
    FROM measured_pumps, generate_series(0, 50) k
    """,
    """
    CREATE TEMPORARY TABLE done AS
    SELECT gen_random_uuid() AS job_id, p.id AS pump_id, p.site_id, p.n, k,
           now() - (3650 - 360 * k) * interval '1 day' AS at
    FROM measured_pumps p, generate_series(1, %(overhauls)s) k
    """,
    """
    INSERT INTO jobs_job (id, version, number, pump_id, site_id, revision_id, kit_id, planned_start, planned_end, state,
                          held_from, state_reasons, repeats, takes_kit, started_at, finished_at, closed_at,
                          planned_by_id)
    SELECT job_id, 1, 'M-' || n || '-' || k, pump_id, site_id, (SELECT revision_id FROM made LIMIT 1),
           (SELECT item_id FROM kits_kit LIMIT 1), at::date, at::date, 'closed', '', '[]', '[]', true, at, at,
           at, %(by)s
    FROM done
    """,
    """
    INSERT INTO jobs_fittedpart (id, version, pump_id, role, part_id, quantity, job_id, fitted_at, removed_condition)
    SELECT gen_random_uuid(), 1, pump_id, 'wear-ring-casing', (SELECT id FROM kits_item WHERE kind = 'part' LIMIT 1), 1,
           job_id, at, '' FROM done WHERE k = 4
    """,
    """
    CREATE TEMPORARY TABLE steps AS
    SELECT gen_random_uuid() AS id, d.job_id, d.n, d.k, d.at, m.step_id, m.step FROM done d, made m
    """,
    """
    INSERT INTO jobs_jobstep (id, version, job_id, step_id, number, section, state, why, advice, note)
    SELECT id, 1, job_id, step_id, step, 'clean-and-inspect', 'done', '', '[]', '' FROM steps
    """,
    """
    CREATE TEMPORARY TABLE resolved AS
    SELECT gen_random_uuid() AS id, s.id AS job_step_id, s.job_id, s.n AS pump, s.k, s.at, a.id AS characteristic_id,
           a.code, a.step
    FROM steps s JOIN asked a USING (step_id)
    """,
    """
    INSERT INTO jobs_jobcharacteristic (id, job_step_id, job_id, characteristic_id, code, lower, upper, unit, words)
    SELECT id, job_step_id, job_id, characteristic_id, code, NULL, 0.6, 'mm', '' FROM resolved
    """,
    """
    INSERT INTO jobs_measurement (id, job_id, job_characteristic_id, attempt, readings, unit, value, value_si,
                                  expanded_uncertainty, coverage_factor, decision_rule, lower, upper, limits_unit,
                                  verdict, room_left, reasons, budget, instrument_id, calibration_due, occurred_at,
                                  by_id)
    SELECT gen_random_uuid(), job_id, id, 1, '["0.2"]', 'mm', v, v / 1000, 0.01, 2, 'simple', NULL, 0.6, 'mm', 'accept',
           0.6 - v, '[]', '[]', (SELECT id FROM jobs_instrument LIMIT 1), current_date, at, %(by)s
    FROM (SELECT *, round((0.15 + 0.02 * (k - CASE WHEN step %% 10 = 7 AND k > 4 THEN 4 ELSE 0 END)
                           + 0.001 * (abs(hashtext(code || pump || k)) %% 9))::numeric, 6) AS v FROM resolved) valued
    """,
    *(f"DROP TABLE {name}" for name in ("made", "asked", "measured_pumps", "done", "steps", "resolved")),
    "ANALYZE",
)


def measured_pump(*, by: uuid.UUID) -> uuid.UUID:
    """Make all of it; one of the pumps."""
    with connection.cursor() as cursor:
        for one in STATEMENTS:
            cursor.execute(one, {"pumps": PUMPS, "overhauls": OVERHAULS, "steps": STEPS, "each": EACH, "by": by})
        cursor.execute("SELECT id FROM assets_pump WHERE tag = 'M-250'")
        found: uuid.UUID = cursor.fetchone()[0]
    return found
