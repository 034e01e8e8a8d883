from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("kits", "0010_move_limits_to_their_sources")]

    operations = [
        migrations.RemoveField(
            model_name="material",
            name="air_max_c",
        ),
        migrations.RemoveField(
            model_name="material",
            name="air_min_c",
        ),
        migrations.RemoveField(
            model_name="material",
            name="hot_water_max_c",
        ),
    ]
