"""What every stored thing has, and the keys that make retries harmless."""

import uuid
from typing import Any

from django.db import models
from django.db.models.functions import Now

from services.api.identifiers import new_id


class Record(models.Model):
    """A stored thing with a UUIDv7, a version that a trigger raises on every real change, and its times."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(db_default=Now(), editable=False)
    updated_at = models.DateTimeField(db_default=Now(), editable=False)

    class Meta:
        abstract = True


class IdempotencyKey(models.Model):
    """The answer once given to (principal, method, path, key); written in the transaction of its effect."""

    id = models.BigAutoField(primary_key=True)
    principal_id = models.UUIDField()
    method = models.CharField(max_length=8)
    path = models.CharField(max_length=300)
    key = models.CharField(max_length=200)
    fingerprint = models.BinaryField(max_length=32)
    status = models.PositiveSmallIntegerField(null=True)
    headers = models.JSONField(default=dict)
    body = models.BinaryField(null=True)
    created_at = models.DateTimeField(db_default=Now())

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["principal_id", "method", "path", "key"], name="idempotency_key_is_used_once"
            )
        ]
        indexes = [models.Index(fields=["created_at"], name="idempotency_key_age")]

    def __str__(self) -> str:
        return f"{self.method} {self.path} {self.key}"


def as_uuid(value: object) -> Any:
    """A UUID, or None where the text is not one (an id that cannot exist is simply not found)."""
    if isinstance(value, uuid.UUID):
        return value
    try:
        return uuid.UUID(str(value))
    except ValueError:
        return None
