import django.db.models.deletion
import django.db.models.functions.datetime
import services.api.identifiers
from django.db import migrations, models

from services.api import guards


VERSIONED = (
    "kits_materiallimit",
    "kits_materialstoragegroup",
    "kits_sealface",
    "kits_sealfacerating",
    "kits_assemblycaution",
)
# What the rule of fit reads marks what it touches, as in 0007_fit_of_build_classes: which parts are of the material, or
# bring seal faces of the letter.
MARKED = (
    (
        "kits_materiallimit", "limit",
        "mark_fit_of_materials(array_agg(DISTINCT m.code::text)) FROM kits_material m"
        " WHERE m.id IN (SELECT material_id FROM {rows} r)",
    ),
    (
        "kits_sealfacerating", "face_rating",
        "mark_fit_of_parts(array_agg(p.item_id)) FROM kits_part p WHERE p.category = 'mechanical-seal' AND EXISTS ("
        "SELECT 1 FROM kits_sealface f WHERE f.id IN (SELECT seal_face_id FROM {rows} r) AND left(f.letters, 1) IN"
        " (left(p.specification->'materials'->>0, 1), left(p.specification->'materials'->>1, 1)))",
    ),
)  # fmt: skip
EVENTS = (
    ("INSERT", "NEW TABLE AS fresh", "fresh"),
    ("UPDATE", "OLD TABLE AS gone NEW TABLE AS fresh", "(SELECT * FROM gone UNION ALL SELECT * FROM fresh)"),
    ("DELETE", "OLD TABLE AS gone", "gone"),
)
MARKS = "".join(
    f"CREATE FUNCTION mark_fit_{name}_{verb.lower()}() RETURNS trigger LANGUAGE plpgsql AS $$\n"
    f"BEGIN PERFORM {marks.format(rows=rows)}; RETURN NULL; END $$;\n"
    f"CREATE TRIGGER mark_fit_{name}_{verb.lower()} AFTER {verb} ON {table} REFERENCING {tables}\n"
    f"    FOR EACH STATEMENT EXECUTE FUNCTION mark_fit_{name}_{verb.lower()}();\n"
    for table, name, marks in MARKED
    for verb, tables, rows in EVENTS
)
UNMARKED = "".join(
    f"DROP TRIGGER mark_fit_{name}_{verb.lower()} ON {table};\nDROP FUNCTION mark_fit_{name}_{verb.lower()}();\n"
    for table, name, _ in MARKED
    for verb, _, _ in EVENTS
)
FORWARD = guards.versioned(*VERSIONED) + MARKS
BACKWARD = UNMARKED + guards.no_versioned(*VERSIONED)


class Migration(migrations.Migration):
    dependencies = [
        ("assets", "0006_sources_of_fluid_families_and_roles"),
        ("kits", "0008_ends_of_supersessions"),
    ]

    operations = [
        migrations.CreateModel(
            name="AssemblyCaution",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=services.api.identifiers.new_id, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "created_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                (
                    "updated_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                ("code", models.CharField(max_length=40, unique=True)),
                ("sentence", models.TextField()),
                (
                    "occasion",
                    models.CharField(
                        choices=[
                            ("always", "Always"),
                            ("unknown-elastomer", "Unknown Elastomer"),
                            ("usable", "Usable"),
                        ],
                        default="always",
                        max_length=20,
                    ),
                ),
                ("source", models.CharField(max_length=300)),
            ],
        ),
        migrations.CreateModel(
            name="MaterialLimit",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=services.api.identifiers.new_id, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "created_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                (
                    "updated_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                ("source", models.CharField(max_length=300)),
                ("note", models.TextField(blank=True, db_default="")),
                (
                    "chosen_because",
                    models.TextField(
                        blank=True,
                        db_default="",
                        help_text="Why this row counts before other sources; empty: it is not chosen.",
                    ),
                ),
                ("air_min_c", models.DecimalField(decimal_places=2, max_digits=6, null=True)),
                ("air_max_c", models.DecimalField(decimal_places=2, max_digits=6, null=True)),
                ("hot_water_max_c", models.DecimalField(decimal_places=2, max_digits=6, null=True)),
            ],
        ),
        migrations.CreateModel(
            name="MaterialStorageGroup",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=services.api.identifiers.new_id, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "created_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                (
                    "updated_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                ("source", models.CharField(max_length=300)),
                ("note", models.TextField(blank=True, db_default="")),
                (
                    "chosen_because",
                    models.TextField(
                        blank=True,
                        db_default="",
                        help_text="Why this row counts before other sources; empty: it is not chosen.",
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="SealFace",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=services.api.identifiers.new_id, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "created_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                (
                    "updated_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                ("letters", models.CharField(max_length=4, unique=True)),
                ("name", models.CharField(max_length=120)),
                ("note", models.TextField(blank=True)),
                ("source", models.CharField(max_length=300)),
            ],
        ),
        migrations.CreateModel(
            name="SealFaceRating",
            fields=[
                (
                    "id",
                    models.UUIDField(
                        default=services.api.identifiers.new_id, editable=False, primary_key=True, serialize=False
                    ),
                ),
                ("version", models.PositiveIntegerField(default=1, editable=False)),
                (
                    "created_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                (
                    "updated_at",
                    models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False),
                ),
                ("source", models.CharField(max_length=300)),
                ("note", models.TextField(blank=True, db_default="")),
                (
                    "chosen_because",
                    models.TextField(
                        blank=True,
                        db_default="",
                        help_text="Why this row counts before other sources; empty: it is not chosen.",
                    ),
                ),
                ("up_to_c", models.DecimalField(decimal_places=2, max_digits=6)),
                ("rating", models.CharField(max_length=1)),
            ],
        ),
        migrations.RemoveConstraint(
            model_name="lubricantadvice",
            name="lubricant_is_judged_once",
        ),
        migrations.RemoveConstraint(
            model_name="materialrating",
            name="rating_is_given_once",
        ),
        migrations.AddField(
            model_name="kitscope",
            name="source",
            field=models.CharField(
                db_default="common practice, no source", default="common practice, no source", max_length=300
            ),
        ),
        migrations.AddField(
            model_name="lubricant",
            name="source",
            field=models.CharField(
                db_default="term of the trade, no source", default="term of the trade, no source", max_length=300
            ),
        ),
        migrations.AddField(
            model_name="lubricant",
            name="suits_unknown",
            field=models.BooleanField(
                db_default=False, default=False, help_text="It may touch an elastomer that the tables do not know."
            ),
        ),
        migrations.AddField(
            model_name="lubricantadvice",
            name="chosen_because",
            field=models.TextField(
                blank=True,
                db_default="",
                help_text="Why this row counts before other sources; empty: it is not chosen.",
            ),
        ),
        migrations.AddField(
            model_name="materialrating",
            name="chosen_because",
            field=models.TextField(
                blank=True,
                db_default="",
                help_text="Why this row counts before other sources; empty: it is not chosen.",
            ),
        ),
        migrations.AddField(
            model_name="materialrating",
            name="note",
            field=models.TextField(blank=True, db_default=""),
        ),
        migrations.AlterField(
            model_name="lubricantadvice",
            name="lubricant",
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name="+", to="kits.lubricant"),
        ),
        migrations.AlterField(
            model_name="lubricantadvice",
            name="material",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="lubricants", to="kits.material"
            ),
        ),
        migrations.AlterField(
            model_name="lubricantadvice",
            name="note",
            field=models.TextField(blank=True, db_default=""),
        ),
        migrations.AlterField(
            model_name="material",
            name="storage_group",
            field=models.ForeignKey(
                help_text="The one that counts of those in MaterialStorageGroup; kept by its operations.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="materials",
                to="kits.storagegroup",
            ),
        ),
        migrations.AlterField(
            model_name="materialrating",
            name="material",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="ratings", to="kits.material"
            ),
        ),
        migrations.AddConstraint(
            model_name="lubricant",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="lubricant_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="lubricantadvice",
            constraint=models.UniqueConstraint(
                fields=("material", "lubricant", "source"), name="lubricant_is_judged_once_by_a_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="lubricantadvice",
            constraint=models.UniqueConstraint(
                condition=models.Q(("chosen_because", ""), _negated=True),
                fields=("material", "lubricant"),
                name="one_lubricant_verdict_is_chosen",
            ),
        ),
        migrations.AddConstraint(
            model_name="lubricantadvice",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="lubricant_verdict_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="material",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="material_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="materialrating",
            constraint=models.UniqueConstraint(
                fields=("material", "fluid_family", "up_to_c", "source"), name="rating_is_given_once_by_a_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="materialrating",
            constraint=models.UniqueConstraint(
                condition=models.Q(("chosen_because", ""), _negated=True),
                fields=("material", "fluid_family", "up_to_c"),
                name="one_rating_row_is_chosen",
            ),
        ),
        migrations.AddConstraint(
            model_name="materialrating",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="rating_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="servicetarget",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="service_target_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="storagegroup",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="storage_group_names_its_source"
            ),
        ),
        migrations.AddField(
            model_name="assemblycaution",
            name="lubricant",
            field=models.ForeignKey(
                help_text="Shown where this one is usable.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="cautions",
                to="kits.lubricant",
            ),
        ),
        migrations.AddConstraint(
            model_name="kitscope",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="kit_scope_names_its_source"
            ),
        ),
        migrations.AddField(
            model_name="materiallimit",
            name="material",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="limits", to="kits.material"
            ),
        ),
        migrations.AddField(
            model_name="materialstoragegroup",
            name="material",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="storage_groups", to="kits.material"
            ),
        ),
        migrations.AddField(
            model_name="materialstoragegroup",
            name="storage_group",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="kits.storagegroup"
            ),
        ),
        migrations.AddConstraint(
            model_name="sealface",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="seal_face_names_its_source"
            ),
        ),
        migrations.AddField(
            model_name="sealfacerating",
            name="fluid_family",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="assets.fluidfamily"
            ),
        ),
        migrations.AddField(
            model_name="sealfacerating",
            name="seal_face",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="ratings", to="kits.sealface"
            ),
        ),
        migrations.AddConstraint(
            model_name="assemblycaution",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("lubricant__isnull", True), ("occasion__in", ["always", "unknown-elastomer"])),
                    models.Q(("lubricant__isnull", False), ("occasion", "usable")),
                    _connector="OR",
                ),
                name="caution_of_usable_names_a_lubricant",
            ),
        ),
        migrations.AddConstraint(
            model_name="assemblycaution",
            constraint=models.CheckConstraint(
                condition=models.Q(("sentence", ""), _negated=True), name="caution_says_something"
            ),
        ),
        migrations.AddConstraint(
            model_name="assemblycaution",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="caution_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="materiallimit",
            constraint=models.UniqueConstraint(fields=("material", "source"), name="limits_are_given_once_by_a_source"),
        ),
        migrations.AddConstraint(
            model_name="materiallimit",
            constraint=models.UniqueConstraint(
                condition=models.Q(("chosen_because", ""), _negated=True),
                fields=("material",),
                name="one_limit_row_is_chosen",
            ),
        ),
        migrations.AddConstraint(
            model_name="materiallimit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("air_min_c__isnull", False),
                    ("air_max_c__isnull", False),
                    ("hot_water_max_c__isnull", False),
                    _connector="OR",
                ),
                name="limit_row_gives_a_limit",
            ),
        ),
        migrations.AddConstraint(
            model_name="materiallimit",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("air_min_c__isnull", True),
                    ("air_max_c__isnull", True),
                    ("air_min_c__lt", models.F("air_max_c")),
                    _connector="OR",
                ),
                name="limits_are_in_order",
            ),
        ),
        migrations.AddConstraint(
            model_name="materiallimit",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="limit_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="materialstoragegroup",
            constraint=models.UniqueConstraint(
                fields=("material", "source"), name="storage_group_is_given_once_by_a_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="materialstoragegroup",
            constraint=models.UniqueConstraint(
                condition=models.Q(("chosen_because", ""), _negated=True),
                fields=("material",),
                name="one_storage_group_row_is_chosen",
            ),
        ),
        migrations.AddConstraint(
            model_name="materialstoragegroup",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="storage_group_row_names_its_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="sealfacerating",
            constraint=models.UniqueConstraint(
                fields=("seal_face", "fluid_family", "up_to_c", "source"), name="face_rating_is_given_once_by_a_source"
            ),
        ),
        migrations.AddConstraint(
            model_name="sealfacerating",
            constraint=models.UniqueConstraint(
                condition=models.Q(("chosen_because", ""), _negated=True),
                fields=("seal_face", "fluid_family", "up_to_c"),
                name="one_face_rating_row_is_chosen",
            ),
        ),
        migrations.AddConstraint(
            model_name="sealfacerating",
            constraint=models.CheckConstraint(
                condition=models.Q(("rating__in", ["A", "B", "C", "X"])), name="face_rating_is_known"
            ),
        ),
        migrations.AddConstraint(
            model_name="sealfacerating",
            constraint=models.CheckConstraint(
                condition=models.Q(("source", ""), _negated=True), name="face_rating_names_its_source"
            ),
        ),
        # The rows of the relation lie in this table already; from now on they are a model of their own.
        migrations.SeparateDatabaseAndState(
            state_operations=[
                migrations.CreateModel(
                    name="KitScopeRole",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                    ],
                    options={
                        "db_table": "kits_kitscope_roles",
                    },
                ),
                migrations.AddField(
                    model_name="kitscoperole",
                    name="kitscope",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to="kits.kitscope"
                    ),
                ),
                migrations.AddField(
                    model_name="kitscoperole",
                    name="positionrole",
                    field=models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="assets.positionrole"
                    ),
                ),
                migrations.AlterField(
                    model_name="kitscope",
                    name="roles",
                    field=models.ManyToManyField(
                        related_name="+", through="kits.KitScopeRole", to="assets.positionrole"
                    ),
                ),
                migrations.AlterUniqueTogether(
                    name="kitscoperole",
                    unique_together={("kitscope", "positionrole")},
                ),
            ]
        ),
        migrations.RunSQL(FORWARD, BACKWARD),
    ]
