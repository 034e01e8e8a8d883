from django.db import migrations

from services.api import guards

FORWARD = guards.versioned("work_backgroundrun")
BACKWARD = guards.no_versioned("work_backgroundrun")


class Migration(migrations.Migration):
    dependencies = [("work", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
