from django.contrib.postgres.operations import AddIndexConcurrently, ValidateConstraint
from django.db import migrations, models

AT_ONCE = 20_000
# The trigger writes the job of the step; a piece at once, so that nobody waits long for a row.
FILL = """
WITH piece AS (
    SELECT id FROM jobs_jobcharacteristic WHERE id > %s ORDER BY id LIMIT %s
), filled AS (
    UPDATE jobs_jobcharacteristic AS one SET job_step_id = one.job_step_id FROM piece
    WHERE one.id = piece.id AND one.job_id IS NULL
)
SELECT id FROM piece ORDER BY id DESC LIMIT 1
"""


def fill(apps, schema_editor):
    last = "00000000-0000-0000-0000-000000000000"
    with schema_editor.connection.cursor() as cursor:
        while last is not None:
            cursor.execute(FILL, [last, AT_ONCE])
            row = cursor.fetchone()
            last = row[0] if row else None


class Migration(migrations.Migration):
    atomic = False

    dependencies = [
        ('jobs', '0009_overhaul_intervals'),
    ]

    operations = [
        migrations.RunPython(fill, migrations.RunPython.noop, atomic=False),
        AddIndexConcurrently(
            model_name='jobcharacteristic',
            index=models.Index(fields=['job', 'code'], name='characteristic_of_job'),
        ),
        # Each in a transaction of its own, while others read and write.
        ValidateConstraint(model_name='measurement', name='second_instrument_has_its_calibration'),
        ValidateConstraint(model_name='job', name='job_follows_another'),
        ValidateConstraint(model_name='jobstep', name='job_step_state_is_known'),
        ValidateConstraint(model_name='jobstep', name='moved_step_names_its_job'),
    ]
