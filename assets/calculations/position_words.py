"""Roles of wear positions as people say them."""

import re
from typing import Any

ENDS = {"de": "drive end", "nde": "non-drive end"}
# Said in another order than they are coded.
WHOLE = {"wear-ring-casing": "casing wear ring", "wear-ring-impeller": "impeller wear ring"}


def position_words(role: Any) -> str:
    """A position role in words: *bearing-de* is *bearing, drive end*; *casing-o-ring* is *casing O-ring*."""
    code = str(role or "")
    if code in WHOLE:
        return WHOLE[code]
    plain, _, end = code.rpartition("-")
    if end in ENDS and plain:
        return f"{position_words(plain)}, {ENDS[end]}"
    return re.sub(r"\bo ring\b", "O-ring", code.replace("-", " "))
