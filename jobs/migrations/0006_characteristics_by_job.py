from django.contrib.postgres.operations import AddIndexConcurrently
from django.db import migrations, models


class Migration(migrations.Migration):
    atomic = False

    dependencies = [
        ('jobs', '0005_overhaul_intervals'),
    ]

    operations = [
        AddIndexConcurrently(
            model_name='jobcharacteristic',
            index=models.Index(fields=['job', 'code'], name='characteristic_of_job'),
        ),
    ]
