from django.db import migrations

from services.api import guards

VERSIONED = (
    "assets_site",
    "assets_bin",
    "assets_grant",
    "assets_fluidfamily",
    "assets_fluid",
    "assets_maker",
    "assets_positionrole",
    "assets_pumpmodel",
    "assets_wearposition",
    "assets_serialcutpoint",
    "assets_temperaturecutpoint",
    "assets_buildclass",
    "assets_pump",
)
APPEND_ONLY = ("assets_runninghours",)
FORWARD = guards.versioned(*VERSIONED) + guards.append_only(*APPEND_ONLY)
BACKWARD = guards.no_append_only(*APPEND_ONLY) + guards.no_versioned(*VERSIONED)


class Migration(migrations.Migration):
    dependencies = [("assets", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
