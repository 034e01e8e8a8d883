"""Verdicts into their table: copied beside it in binary, then only what differs is deleted, changed or added."""

import struct
import uuid
from collections.abc import Sequence

import numpy as np
from django.db import connection

from kits.calculations.fit_arrays import VERDICTS
from kits.calculations.fit_catalogue import Judged
from kits.calculations.matching import Ints
from kits.queries.fit_catalogue import LoadedClasses, LoadedKits

# The binary form of COPY, PostgreSQL's manual, "Binary Format": signature, flags, then rows of fields with lengths.
HEADER = b"PGCOPY\n\xff\r\n\x00" + struct.pack("!ii", 0, 0)
TRAILER = struct.pack("!h", -1)
_FIELDS = (
    ("build_class_id", "V16"), ("kit_id", "V16"), ("verdict", ">i2"), ("matched", ">i2"), ("asked", ">i2"),
    ("declared", "u1"), ("kit_seen", ">i8"), ("class_seen", ">i8"),
)  # fmt: skip
_ROW = np.dtype(
    [("fields", ">i2")] + [part for name, kind in _FIELDS for part in ((f"{name}_length", ">i4"), (name, kind))]
)
_BESIDE = """
CREATE TEMPORARY TABLE IF NOT EXISTS fit_fresh (
    build_class_id uuid, kit_id uuid, verdict smallint, matched smallint, asked smallint, declared boolean,
    kit_seen bigint, class_seen bigint
) ON COMMIT DROP;
TRUNCATE fit_fresh
"""
_GONE = """
DELETE FROM kits_fitresult r WHERE {old}
    AND NOT EXISTS (SELECT 1 FROM fit_fresh f WHERE f.build_class_id = r.build_class_id AND f.kit_id = r.kit_id)
"""
_WORD = "(%(words)s::text[])[f.verdict + 1]"
_CHANGED = f"""
UPDATE kits_fitresult r SET verdict = {_WORD}, matched = f.matched, asked = f.asked, declared = f.declared,
    kit_seen = f.kit_seen, class_seen = f.class_seen, computed_at = now()
    FROM fit_fresh f WHERE {{old}} AND f.build_class_id = r.build_class_id AND f.kit_id = r.kit_id
    AND (r.verdict, r.matched, r.asked, r.declared, r.kit_seen, r.class_seen)
    IS DISTINCT FROM ({_WORD}, f.matched, f.asked, f.declared, f.kit_seen, f.class_seen)
"""
_ADDED = f"""
INSERT INTO kits_fitresult
    (build_class_id, kit_id, verdict, matched, asked, declared, kit_seen, class_seen, computed_at)
    SELECT f.build_class_id, f.kit_id, {_WORD}, f.matched, f.asked, f.declared, f.kit_seen, f.class_seen, now()
    FROM fit_fresh f LEFT JOIN (SELECT r.build_class_id, r.kit_id FROM kits_fitresult r WHERE {{old}}) r
        ON r.build_class_id = f.build_class_id AND r.kit_id = f.kit_id
    WHERE r.kit_id IS NULL
"""


class Saving:
    """Saves pieces of judging some kits against some build classes."""

    def __init__(self, kits: LoadedKits, classes: LoadedClasses, declared: Ints) -> None:
        self._kits, self._classes, self._declared = kits, classes, declared
        self._kit_bytes, self._class_bytes = _bytes(kits.ids), _bytes(classes.ids)

    def save(
        self, pieces: Sequence[Judged], *, of_kits: list[uuid.UUID] | None, of_classes: list[uuid.UUID] | None
    ) -> None:
        """Make the table agree with what was judged of some kits (all if None) and classes (all if None)."""
        conditions, values = ["true"], {"words": list(VERDICTS), "kits": of_kits, "classes": of_classes}
        if of_kits is not None:
            conditions.append("r.kit_id = ANY (%(kits)s)")
        if of_classes is not None:
            conditions.append("r.build_class_id = ANY (%(classes)s)")
        with connection.cursor() as cursor:
            cursor.execute(_BESIDE)
            with cursor.copy("COPY fit_fresh FROM STDIN (FORMAT binary)") as copy:
                copy.write(HEADER)
                for one in pieces:
                    copy.write(self._rows(one))
                copy.write(TRAILER)
            cursor.execute("ANALYZE fit_fresh")
            for statement in (_GONE, _CHANGED, _ADDED):
                cursor.execute(statement.format(old=" AND ".join(conditions)), values)

    def _rows(self, judged: Judged) -> bytes:
        rows = np.empty(len(judged.kit), dtype=_ROW)
        rows["fields"] = len(_FIELDS)
        for name, kind in _FIELDS:
            rows[f"{name}_length"] = np.dtype(kind).itemsize
        rows["build_class_id"] = self._class_bytes[judged.build_class]
        rows["kit_id"] = self._kit_bytes[judged.kit]
        rows["verdict"], rows["matched"], rows["asked"] = judged.verdict, judged.matched, judged.asked
        rows["declared"] = np.isin(judged.build_class * len(self._kits.ids) + judged.kit, self._declared)
        rows["kit_seen"] = self._kits.seen[judged.kit]
        rows["class_seen"] = self._classes.seen[judged.build_class]
        return rows.tobytes()


def _bytes(ids: Sequence[uuid.UUID]) -> np.ndarray:
    return np.frombuffer(b"".join(one.bytes for one in ids), dtype="V16")
