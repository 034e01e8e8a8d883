from django.db import migrations

LIMITS = ("air_min_c", "air_max_c", "hot_water_max_c")
AS_STEAM = "after the row for saturated steam of the screening table, value from memory"
SCREENING = "screening table of general engineering practice, value from memory"
NOTE_OF_STEAM = "After the row for saturated steam."


def move(apps, schema_editor):
    """What stood with the material becomes the first source's row; nothing that counted changes by it."""
    material = apps.get_model("kits", "Material")
    limit = apps.get_model("kits", "MaterialLimit")
    storage = apps.get_model("kits", "MaterialStorageGroup")
    known = list(material.objects.all())
    limit.objects.bulk_create(
        limit(material=one, source=one.source, **{name: getattr(one, name) for name in LIMITS})
        for one in known
        if any(getattr(one, name) is not None for name in LIMITS)
    )
    storage.objects.bulk_create(
        storage(material=one, storage_group_id=one.storage_group_id, source=one.source)
        for one in known
        if one.storage_group_id is not None
    )
    # Each source is read on its own from now on, and these rows go on with the same table.
    apps.get_model("kits", "MaterialRating").objects.filter(source=AS_STEAM).update(
        source=SCREENING, note=NOTE_OF_STEAM
    )
    apps.get_model("kits", "Lubricant").objects.filter(code="soft-soap").update(suits_unknown=True)


def move_back(apps, schema_editor):
    """The figures that count return to the material: of a chosen row, else the most careful ones."""
    rating = apps.get_model("kits", "MaterialRating")
    rating.objects.filter(source=SCREENING, note=NOTE_OF_STEAM).update(source=AS_STEAM, note="")
    limits = {}
    for one in apps.get_model("kits", "MaterialLimit").objects.all():
        limits.setdefault(one.material_id, []).append(one)
    for material in apps.get_model("kits", "Material").objects.filter(pk__in=limits):
        for name, careful in zip(LIMITS, (max, min, min), strict=True):
            given = [one for one in limits[material.pk] if getattr(one, name) is not None]
            counted = [one for one in given if one.chosen_because] or given
            setattr(material, name, careful((getattr(one, name) for one in counted), default=None))
        material.save(update_fields=LIMITS)
    apps.get_model("kits", "MaterialLimit").objects.all().delete()
    apps.get_model("kits", "MaterialStorageGroup").objects.all().delete()
    # One row a key was all there was room for: the most careful of several stays.
    for model, key, badness in (
        (rating, ("material_id", "fluid_family_id", "up_to_c"), {one: place for place, one in enumerate("ABCX")}),
        (
            apps.get_model("kits", "LubricantAdvice"),
            ("material_id", "lubricant_id"),
            {"ok": 0, "check": 1, "avoid": 2, "forbidden": 3},
        ),
    ):
        kept = {}
        for one in model.objects.order_by("source"):
            of = tuple(getattr(one, name) for name in key)
            value = badness[getattr(one, "rating", None) or one.verdict]
            rank = (bool(one.chosen_because), value)
            if of not in kept or rank > kept[of][0]:
                kept[of] = (rank, one.pk)
        model.objects.exclude(pk__in=[pk for _, pk in kept.values()]).delete()


class Migration(migrations.Migration):
    dependencies = [("kits", "0009_figures_by_source")]

    operations = [migrations.RunPython(move, move_back)]
