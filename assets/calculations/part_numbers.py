"""Part numbers as they are compared: one man's ``OR 226-E`` is another's ``or226e``."""

# Everything Unicode counts as a space, and what stands between the groups of a number: hyphens and dashes of every
# kind, dots, strokes, low lines. The database has the same rule as the function normalised_part_number.
SPACES = (
    "\t\n\v\f\r\x1c\x1d\x1e\x1f \x85\xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a"
    "\u2028\u2029\u202f\u205f\u3000"
)
SEPARATORS = "-./_\xad\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
# Capitals of the Latin letters of ISO 8859-1 only: they are one sign each, whatever the language of the database.
SMALL = "abcdefghijklmnopqrstuvwxyzàáâãäåæçèéêëìíîïðñòóôõöøùúûüýþ"
_AS_COMPARED = str.maketrans(SMALL, SMALL.upper(), SPACES + SEPARATORS)


def normalise_number(number: str) -> str:
    """A part number as compared: capitals, without spaces, hyphens, dots, strokes and low lines (common practice, no
    source)."""
    return number.translate(_AS_COMPARED)
