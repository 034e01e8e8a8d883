import django.db.models.deletion
import django.db.models.functions.datetime
from django.db import migrations, models

# Marks say what has to be computed again, and no more than that. They are set by statement, so that a file of sixty
# thousand rows marks once. A mark that is there already is touched, so that a computation that has begun does not
# swallow it.
OLD = (
    ("kits_kitscope_roles", "mark_released_kits"), ("kits_materialrating", "mark_released_kits"),
    ("kits_material", "mark_released_kits"), ("kits_supersession", "mark_released_kits"),
    ("kits_part", "mark_kits_of_part"), ("kits_kit", "mark_kit"), ("kits_item", "mark_kits_of_renumbered_part"),
    ("assets_wearposition", "mark_classes_of_position"), ("assets_buildclass", "mark_build_class"),
    ("assets_fluidfamily", "mark_released_kits"),
)  # fmt: skip
DROP_OLD = "".join(f"DROP TRIGGER fit_is_marked ON {table};\n" for table, _ in OLD) + "".join(
    f"DROP FUNCTION {name}();\n" for name in sorted({name for _, name in OLD})
)

MARKS = """
CREATE FUNCTION mark_fit_of_kits(ids uuid[]) RETURNS void LANGUAGE sql AS $$
    INSERT INTO kits_fitmark (kit_id)
        SELECT k.item_id FROM kits_kit k WHERE k.item_id = ANY (ids) ORDER BY 1
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
$$;
CREATE FUNCTION mark_fit_of_classes(ids uuid[]) RETURNS void LANGUAGE sql AS $$
    INSERT INTO kits_fitmark (build_class_id)
        SELECT c.id FROM assets_buildclass c WHERE c.id = ANY (ids) ORDER BY 1
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
$$;
CREATE FUNCTION mark_fit_of_parts(ids uuid[]) RETURNS void LANGUAGE sql AS $$
    SELECT mark_fit_of_kits(array_agg(DISTINCT l.kit_id)) FROM kits_kitline l
        JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released' WHERE l.part_id = ANY (ids);
$$;
CREATE FUNCTION mark_fit_of_materials(codes text[]) RETURNS void LANGUAGE sql AS $$
    SELECT mark_fit_of_parts(array_agg(p.item_id)) FROM kits_part p WHERE jsonb_exists_any(p.elastomers, codes);
$$;
-- Every part of the chains that hold one of these links, however its number is written.
CREATE FUNCTION parts_of_chains(ends uuid[]) RETURNS uuid[] LANGUAGE sql STABLE AS $$
    WITH RECURSIVE chain(id) AS (
        SELECT unnest(ends)
        UNION
        SELECT n.id FROM chain c CROSS JOIN LATERAL (
            SELECT s.new_id AS id FROM kits_supersession s WHERE s.old_id = c.id
            UNION ALL SELECT s.old_id FROM kits_supersession s WHERE s.new_id = c.id
            UNION ALL SELECT other.id FROM kits_item this JOIN kits_item other
                ON normalised_part_number(other.number) = normalised_part_number(this.number)
                WHERE this.id = c.id
        ) n
    )
    SELECT array_agg(id) FROM chain;
$$;
"""

# What each table marks when rows of it come, change or go: the statement sees them as `gone` and `fresh`.
BOTH = "(SELECT * FROM gone UNION ALL SELECT * FROM fresh)"
MARKED = (
    ("assets_buildclass", "build_class", "IU", "mark_fit_of_classes(array_agg(id)) FROM {rows} r"),
    (
        "assets_wearposition", "position", "IUD",
        "mark_fit_of_classes(array_agg(c.id)) FROM assets_buildclass c"
        " WHERE c.pump_model_id IN (SELECT pump_model_id FROM {rows} r)",
    ),
    (
        "assets_fluidfamily", "fluid_family", "U",
        "mark_fit_of_classes(array_agg(c.id)) FROM assets_buildclass c WHERE c.fluid_family_id IN"
        " (SELECT o.id FROM gone o JOIN fresh n ON n.id = o.id"
        " WHERE (o.code, o.is_water) IS DISTINCT FROM (n.code, n.is_water))",
    ),
    (
        "kits_kit", "kit", "U",
        "mark_fit_of_kits(array_agg(n.item_id)) FROM gone o JOIN fresh n ON n.item_id = o.item_id"
        " WHERE (o.state, o.scope_id) IS DISTINCT FROM (n.state, n.scope_id)",
    ),
    ("kits_kit", "new_kit", "I", "mark_fit_of_kits(array_agg(item_id)) FROM fresh WHERE state = 'released'"),
    (
        "kits_kitline", "kit_line", "IUD",
        "mark_fit_of_kits(array_agg(k.item_id)) FROM kits_kit k WHERE k.state = 'released'"
        " AND k.item_id IN (SELECT kit_id FROM {rows} r)",
    ),
    (
        "kits_part", "part", "U",
        "mark_fit_of_parts(array_agg(n.item_id)) FROM gone o JOIN fresh n ON n.item_id = o.item_id"
        " WHERE (o.specification, o.category, o.elastomers)"
        " IS DISTINCT FROM (n.specification, n.category, n.elastomers)",
    ),
    (
        "kits_item", "item", "U",
        "mark_fit_of_parts(array_agg(n.id)) FROM gone o JOIN fresh n ON n.id = o.id WHERE o.number <> n.number",
    ),
    (
        "kits_supersession", "supersession", "IUD",
        "mark_fit_of_parts(parts_of_chains((SELECT array_agg(one) FROM {rows} r,"
        " LATERAL (VALUES (r.old_id), (r.new_id)) AS both_ends(one))))",
    ),
    ("kits_material", "material", "IUD", "mark_fit_of_materials(array_agg(DISTINCT code::text)) FROM {rows} r"),
    (
        "kits_materialrating", "rating", "IUD",
        "mark_fit_of_materials(array_agg(DISTINCT m.code::text)) FROM kits_material m"
        " WHERE m.id IN (SELECT material_id FROM {rows} r)",
    ),
    (
        "kits_kitscope_roles", "scope", "IUD",
        "mark_fit_of_kits(array_agg(k.item_id)) FROM kits_kit k WHERE k.state = 'released'"
        " AND k.scope_id IN (SELECT kitscope_id FROM {rows} r)",
    ),
    (
        "kits_coverage", "coverage", "IUD",
        "mark_fit_of_kits(array_agg(k.item_id)) FROM kits_kit k WHERE k.state = 'released'"
        " AND k.item_id IN (SELECT kit_id FROM {rows} r)",
    ),
)  # fmt: skip
EVENTS = {
    "I": ("INSERT", "NEW TABLE AS fresh", "fresh"),
    "U": ("UPDATE", "OLD TABLE AS gone NEW TABLE AS fresh", BOTH),
    "D": ("DELETE", "OLD TABLE AS gone", "gone"),
}


def trigger(table, name, event, marks):
    verb, tables, rows = EVENTS[event]
    function = f"mark_fit_{name}_{verb.lower()}"
    return (
        f"CREATE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $$\n"
        f"BEGIN PERFORM {marks.format(rows=rows)}; RETURN NULL; END $$;\n"
        f"CREATE TRIGGER {function} AFTER {verb} ON {table} REFERENCING {tables}\n"
        f"    FOR EACH STATEMENT EXECUTE FUNCTION {function}();\n"
    )


FORWARD = DROP_OLD + MARKS + "".join(
    trigger(table, name, event, marks) for table, name, events, marks in MARKED for event in events
)
# What was computed is gone with its table: everything released is computed anew.
MARK_EVERYTHING = "SELECT mark_fit_of_kits(array_agg(item_id)) FROM kits_kit WHERE state = 'released';"


class Migration(migrations.Migration):
    dependencies = [("kits", "0006_items_by_compared_number"), ("assets", "0003_numbers_as_compared")]

    operations = [
        migrations.RunSQL(FORWARD),
        migrations.DeleteModel(name="FitResult"),
        migrations.CreateModel(
            name="FitResult",
            fields=[
                (
                    "pk",
                    models.CompositePrimaryKey(
                        "build_class_id", "kit_id", blank=True, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("verdict", models.CharField(max_length=20)),
                ("matched", models.PositiveSmallIntegerField()),
                ("asked", models.PositiveSmallIntegerField()),
                ("declared", models.BooleanField(default=False)),
                ("kit_seen", models.BigIntegerField()),
                ("class_seen", models.BigIntegerField()),
                (
                    "computed_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now()),
                ),
                (
                    "build_class",
                    models.ForeignKey(
                        db_index=False, on_delete=django.db.models.deletion.CASCADE, related_name="fits",
                        to="assets.buildclass",
                    ),
                ),
                (
                    "kit",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="fits", to="kits.kit"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            ("verdict__in", ["fits", "fits-with-notes", "incomplete", "unsuitable"])
                        ),
                        name="fit_verdict_is_known",
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="AskedKey",
            fields=[
                ("specification", models.CharField(max_length=400)),
                ("seen", models.CharField(max_length=32)),
                ("position_id", models.UUIDField(primary_key=True, serialize=False)),
                ("pump_model_id", models.UUIDField()),
                ("role", models.CharField(max_length=40)),
            ],
            options={
                "indexes": [
                    models.Index(fields=["specification"], name="asked_by_specification"),
                    models.Index(fields=["pump_model_id"], name="asked_by_model"),
                ],
            },
        ),
        migrations.CreateModel(
            name="OfferedKey",
            fields=[
                ("specification", models.CharField(max_length=400)),
                ("seen", models.CharField(max_length=32)),
                ("part_id", models.UUIDField(primary_key=True, serialize=False)),
            ],
            options={
                "indexes": [models.Index(fields=["specification"], name="offered_by_specification")],
            },
        ),
        migrations.RunSQL(MARK_EVERYTHING, migrations.RunSQL.noop),
    ]
