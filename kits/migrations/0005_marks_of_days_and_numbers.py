from django.db import migrations, models

# A position that moves to another model matters to both. A part's number, and whether a family of fluids counts as
# water, are read by the rule of fit too.
FORWARD = """
CREATE OR REPLACE FUNCTION mark_classes_of_position() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (build_class_id)
        SELECT id FROM assets_buildclass WHERE pump_model_id IN (OLD.pump_model_id, NEW.pump_model_id) ORDER BY id
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;

CREATE FUNCTION mark_kits_of_renumbered_part() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (kit_id)
        SELECT DISTINCT l.kit_id FROM kits_kitline l JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
        WHERE l.part_id = NEW.id ORDER BY 1
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;
CREATE TRIGGER fit_is_marked AFTER UPDATE OF number ON kits_item
    FOR EACH ROW WHEN (OLD.number IS DISTINCT FROM NEW.number) EXECUTE FUNCTION mark_kits_of_renumbered_part();
CREATE TRIGGER fit_is_marked AFTER UPDATE ON assets_fluidfamily
    FOR EACH STATEMENT EXECUTE FUNCTION mark_released_kits();
"""
BACKWARD = """
DROP TRIGGER fit_is_marked ON assets_fluidfamily;
DROP TRIGGER fit_is_marked ON kits_item;
DROP FUNCTION mark_kits_of_renumbered_part();
CREATE OR REPLACE FUNCTION mark_classes_of_position() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (build_class_id)
        SELECT id FROM assets_buildclass
        WHERE pump_model_id = CASE WHEN TG_OP = 'DELETE' THEN OLD.pump_model_id ELSE NEW.pump_model_id END ORDER BY id
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;
"""


class Migration(migrations.Migration):
    dependencies = [("kits", "0004_marks_of_fit"), ("assets", "0002_guards")]

    operations = [
        migrations.CreateModel(
            name="FitDay",
            fields=[
                ("id", models.PositiveSmallIntegerField(default=1, primary_key=True, serialize=False)),
                ("day", models.DateField()),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="fit_day_is_one_row")
                ],
            },
        ),
        migrations.RunSQL(FORWARD, BACKWARD),
    ]
