from django.db import migrations

from services.api import guards

FORWARD = (
    guards.append_only("changes_change") + "INSERT INTO changes_epoch (id, epoch) VALUES (1, gen_random_uuid());"
)
BACKWARD = "DELETE FROM changes_epoch;" + guards.no_append_only("changes_change")


class Migration(migrations.Migration):
    dependencies = [("changes", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
