from django.db import migrations

from services.api import guards

FORWARD = guards.versioned("bulk_loads_columnmapping")
BACKWARD = guards.no_versioned("bulk_loads_columnmapping")


class Migration(migrations.Migration):
    dependencies = [("bulk_loads", "0003_column_mappings"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
