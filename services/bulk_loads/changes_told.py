"""Kinds of change that handing files in records."""

from services.changes.recording import declare_kinds

declare_kinds(
    {
        "column-mapping.registered": "A mapping for files of others was saved.",
        "column-mapping.changed": "A mapping for files of others changed.",
        "column-mapping.removed": "A mapping for files of others was removed.",
    }
)
