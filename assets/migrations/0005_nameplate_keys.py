from django.contrib.postgres.indexes import GinIndex, OpClass
from django.contrib.postgres.operations import AddIndexConcurrently, TrigramExtension
from django.db import migrations, models
from django.db.models.functions.text import Concat

# Sign for sign what search_key of assets/calculations/plate_text.py does: small letters, signs that readers of plates
# confuse taken for equal, nothing that parts. Under the collation "C", so that neither the language of the database
# nor its version can change the answer; and only what is quick, since a search makes the key of many rows anew.
CONFUSED, MEANT = "oilsbz", "011582"
PARTING = " -/._|\u00a0\u2010\u2011\u2012\u2013\u2014\u2212\u00d7"


def escaped(text: str) -> str:
    """A text as an SQL literal of plain ASCII."""
    signs = "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):04X}" for one in text)
    return f"U&'{signs}'"


FORWARD = f"""
CREATE FUNCTION nameplate_key(words text) RETURNS text
LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS
$$ SELECT translate(lower(words COLLATE "C"), {escaped(CONFUSED + PARTING)}, {escaped(MEANT)}) $$;
"""
BACKWARD = "DROP FUNCTION nameplate_key(text);"


def key(text: models.F | Concat) -> models.Func:
    return models.Func(text, function="nameplate_key", output_field=models.TextField())


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("assets", "0004_places_of_sites")]

    operations = [
        # A trusted extension: the owner of the database may make it, no superuser is needed.
        TrigramExtension(),
        migrations.RunSQL(FORWARD, BACKWARD),
        AddIndexConcurrently(
            model_name="pump",
            index=models.Index(key(models.F("serial_number")), name="pump_by_serial_key"),
        ),
        AddIndexConcurrently(
            model_name="pumpmodel",
            index=GinIndex(
                OpClass(
                    key(Concat("series", models.Value(" "), "designation", output_field=models.TextField())),
                    name="gin_trgm_ops",
                ),
                name="pump_model_by_type_trigrams",
            ),
        ),
    ]
