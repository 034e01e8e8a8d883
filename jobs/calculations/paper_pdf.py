"""Papers set by typst from the templates beside this file: no network, bundled fonts only.

What stands on paper reaches the template as JSON and is shown as text; none of it is read as markup. Equal content
gives equal bytes.
"""

import datetime
import hashlib
import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Literal

import typst

FOLDER = Path(__file__).parent
Paper = Literal["a4", "letter"]
PAPERS: dict[str, dict[str, float]] = {
    # ISO 216; ANSI/ASME Y14.1 size A.
    "a4": {"width": 210, "height": 297},
    "letter": {"width": 215.9, "height": 279.4},
}
SIGNAL_WORDS = ("danger", "warning", "caution", "notice")
# typst keeps what it worked out for its last documents; that is given back.
DOCUMENTS_KEPT = 12
TEMPLATES = ("paper.typ", "job_sheet.typ", "overhaul_record.typ")


def paper_pdf(template: str, content: Mapping[str, Any], *, paper: str, at: datetime.datetime) -> bytes:
    """The PDF of a paper. ``at`` is the moment its content is of; nothing of today stands in the file."""
    pdf = typst.compile(
        FOLDER / template,
        root=FOLDER,
        font_paths=_fonts(),
        sys_inputs={"content": json.dumps({**_breakable(content), "paper": PAPERS[paper]})},
        timestamp=int(at.timestamp()),
    )
    for _ in range(DOCUMENTS_KEPT):
        typst.compile(b"", font_paths=_fonts())
    return pdf


LONGEST_WORD = 40
_LONG = re.compile(rf"\S{{{LONGEST_WORD},}}")
_HASH = re.compile(r"[0-9a-f]{64}")
_AS_IT_IS = ("svg", "symbol", "address")


def _breakable(value: Any) -> Any:
    """Places at which words too long for a line may be broken, so that nothing runs off the paper."""
    if isinstance(value, Mapping):
        return {key: one if key in _AS_IT_IS else _breakable(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_breakable(one) for one in value]
    if isinstance(value, str) and not _HASH.fullmatch(value):
        return _LONG.sub(lambda word: "\u200b".join(re.findall(".{1,10}", word[0])), value)
    return value


def content_tag(content: Mapping[str, Any], *, paper: str) -> str:
    """What tells one state of a paper from another: over its content, its format and the templates."""
    digest = hashlib.sha256(json.dumps([content, paper], sort_keys=True).encode())
    digest.update(_templates())
    return digest.hexdigest()[:32]


@cache
def _templates() -> bytes:
    return b"".join((FOLDER / name).read_bytes() for name in TEMPLATES)


@cache
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False)
