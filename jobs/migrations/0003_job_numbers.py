from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("jobs", "0002_guards")]

    operations = [migrations.RunSQL("CREATE SEQUENCE jobs_job_number", "DROP SEQUENCE jobs_job_number")]
