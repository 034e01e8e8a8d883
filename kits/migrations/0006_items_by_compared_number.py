import django.db.models.expressions
from django.contrib.postgres.operations import AddIndexConcurrently
from django.db import migrations, models


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("kits", "0005_marks_of_days_and_numbers"), ("assets", "0003_numbers_as_compared")]

    operations = [
        AddIndexConcurrently(
            model_name="item",
            index=models.Index(
                django.db.models.expressions.Func(
                    django.db.models.expressions.F("number"),
                    function="normalised_part_number",
                    output_field=models.TextField(),
                ),
                name="item_by_compared_number",
            ),
        ),
    ]
