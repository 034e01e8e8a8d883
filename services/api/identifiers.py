"""Ids offered to clients: UUID version 7 (RFC 9562), made here or by the client.

The time inside an id is never used for order or audit: a device's clock may be wrong.
"""

import uuid

import uuid_utils


def new_id() -> uuid.UUID:
    """A fresh UUIDv7."""
    return uuid.UUID(int=uuid_utils.uuid7().int)
