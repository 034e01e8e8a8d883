import django.db.models.expressions
from django.contrib.postgres.operations import AddConstraintNotValid, ValidateConstraint
from django.db import migrations, models


# From some numbers along their chains, both ways, as far as they lead and no further. UNION drops what was reached
# before, so that neither depth nor a circle matters. Parts whose numbers compare alike are one place of a chain. Each
# step is a handful of look-ups by index; the planner cannot know how few places a step reaches and would read whole
# tables for each, so OFFSET 0 and the settings hold it to look-ups.
FORWARD = """
CREATE FUNCTION supersession_chains(numbers text[])
RETURNS TABLE (
    id uuid, old_id uuid, old_number text, new_id uuid, new_number text, from_date date, both_ways boolean,
    until_date date
)
LANGUAGE sql STABLE ROWS 50
SET enable_seqscan = off SET enable_bitmapscan = off SET enable_memoize = off SET jit = off AS
$$
WITH RECURSIVE reached (number) AS (
    SELECT unnest(numbers)
    UNION
    SELECT normalised_part_number(beside.number)
    FROM reached
    CROSS JOIN LATERAL (
        SELECT item.id FROM kits_item item
        WHERE normalised_part_number(item.number) = reached.number AND item.kind = 'part' OFFSET 0
    ) here
    CROSS JOIN LATERAL (
        SELECT link.new_id AS part_id FROM kits_supersession link WHERE link.old_id = here.id
        UNION ALL
        SELECT link.old_id FROM kits_supersession link WHERE link.new_id = here.id
    ) step
    CROSS JOIN LATERAL (SELECT item.number FROM kits_item item WHERE item.id = step.part_id OFFSET 0) beside
)
SELECT link.id, older.id, older.number, link.new_id, newer.number, link.from_date, link.both_ways, link.until_date
FROM reached
CROSS JOIN LATERAL (
    SELECT item.id, item.number FROM kits_item item
    WHERE normalised_part_number(item.number) = reached.number AND item.kind = 'part' OFFSET 0
) older
CROSS JOIN LATERAL (SELECT one.* FROM kits_supersession one WHERE one.old_id = older.id OFFSET 0) link
CROSS JOIN LATERAL (SELECT item.number FROM kits_item item WHERE item.id = link.new_id OFFSET 0) newer
$$;
"""
BACKWARD = "DROP FUNCTION supersession_chains(text[]);"


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("kits", "0007_fit_of_build_classes")]

    operations = [
        migrations.AddField(
            model_name="supersession",
            name="until_date",
            field=models.DateField(
                help_text="The last day on which it holds; the day before from_date where it never did.", null=True
            ),
        ),
        AddConstraintNotValid(
            model_name="supersession",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("until_date__isnull", True),
                    (
                        "until_date__gte",
                        models.ExpressionWrapper(
                            django.db.models.expressions.CombinedExpression(
                                models.F("from_date"), "-", models.Value(1)
                            ),
                            output_field=models.DateField(),
                        ),
                    ),
                    _connector="OR",
                ),
                name="supersession_ends_after_it_begins",
            ),
        ),
        ValidateConstraint(model_name="supersession", name="supersession_ends_after_it_begins"),
        migrations.RunSQL(FORWARD, BACKWARD),
    ]
