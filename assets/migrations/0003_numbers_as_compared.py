import django.db.models.expressions
from django.contrib.postgres.operations import AddIndexConcurrently
from django.db import migrations, models

# Sign for sign what assets/calculations/part_numbers.py does: capitals of the Latin letters, no spaces, no separators.
# One translate, so that neither the language of the database nor its version can change the answer.
SPACES = (
    "\t\n\v\f\r\x1c\x1d\x1e\x1f \x85\xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a"
    "\u2028\u2029\u202f\u205f\u3000"
)
SEPARATORS = "-./_\xad\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
SMALL = "abcdefghijklmnopqrstuvwxyzàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþ"


def escaped(text: str) -> str:
    """A text as an SQL literal of plain ASCII."""
    signs = "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):04X}" for one in text)
    return f"U&'{signs}'"


FORWARD = f"""
CREATE FUNCTION normalised_part_number(number text) RETURNS text
LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS
$$ SELECT translate(number, {escaped(SMALL + SPACES + SEPARATORS)}, {escaped(SMALL.upper())}) $$;
"""
BACKWARD = "DROP FUNCTION normalised_part_number(text);"


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("assets", "0002_guards")]

    operations = [
        migrations.RunSQL(FORWARD, BACKWARD),
        AddIndexConcurrently(
            model_name="wearposition",
            index=models.Index(
                django.db.models.expressions.Func(
                    django.db.models.expressions.F("part_number"),
                    function="normalised_part_number",
                    output_field=models.TextField(),
                ),
                condition=models.Q(("part_number", ""), _negated=True),
                name="position_by_number",
            ),
        ),
    ]
