from django.db import migrations

from services.api import guards

FORWARD = guards.versioned("bulk_loads_bulkload")
BACKWARD = guards.no_versioned("bulk_loads_bulkload")


class Migration(migrations.Migration):
    dependencies = [("bulk_loads", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
