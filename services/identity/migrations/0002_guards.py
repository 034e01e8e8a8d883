from django.db import migrations

from services.api import guards

TABLES = ("identity_principal", "identity_accesstoken")
FORWARD = guards.versioned(*TABLES)
BACKWARD = guards.no_versioned(*TABLES)


class Migration(migrations.Migration):
    dependencies = [("identity", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
