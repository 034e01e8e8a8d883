from django.contrib.postgres.operations import AddIndexConcurrently
from django.db import migrations, models


class Migration(migrations.Migration):
    atomic = False

    dependencies = [
        ('jobs', '0009_overhaul_intervals'),
    ]

    operations = [
        migrations.RunSQL(
            "UPDATE jobs_jobcharacteristic SET job_step_id = job_step_id WHERE job_id IS NULL", migrations.RunSQL.noop
        ),
        AddIndexConcurrently(
            model_name='jobcharacteristic',
            index=models.Index(fields=['job', 'code'], name='characteristic_of_job'),
        ),
    ]
