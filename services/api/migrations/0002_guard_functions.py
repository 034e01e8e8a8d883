from django.db import migrations

from services.api import guards

FORWARD = guards.FUNCTIONS
BACKWARD = guards.DROP_FUNCTIONS


class Migration(migrations.Migration):
    dependencies = [("api", "0001_initial")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
