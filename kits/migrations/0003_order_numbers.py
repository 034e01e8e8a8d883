from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("kits", "0002_guards")]

    operations = [migrations.RunSQL("CREATE SEQUENCE kits_order_number", "DROP SEQUENCE kits_order_number")]
