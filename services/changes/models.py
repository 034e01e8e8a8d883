"""What changed, in the order in which it can safely be told."""

from typing import Any

from django.db import models
from django.db.models import Func
from django.db.models.functions import Now


class TransactionIdField(models.Field):
    """PostgreSQL's ``xid8``: the id of the writing transaction, never reused within a cluster."""

    def db_type(self, connection: Any) -> str:
        return "xid8"

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> int | None:
        return None if value is None else int(value)

    def get_prep_value(self, value: Any) -> str | None:
        return None if value is None else str(value)


class CurrentTransaction(Func):
    function = "pg_current_xact_id"
    template = "%(function)s()"
    output_field = TransactionIdField()


class Epoch(models.Model):
    """One row: the life of this database. A restore into another cluster begins a new one, and cursors with it."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    epoch = models.UUIDField()

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(id=1), name="there_is_one_epoch")]

    def __str__(self) -> str:
        return str(self.epoch)


class Change(models.Model):
    """One thing that became different, with its shape at that moment; append-only."""

    id = models.BigAutoField(primary_key=True)
    transaction = TransactionIdField(db_default=CurrentTransaction(), editable=False)
    at = models.DateTimeField(db_default=Now())
    kind = models.CharField(max_length=60)
    noun = models.CharField(max_length=40)
    noun_id = models.UUIDField()
    noun_version = models.PositiveIntegerField(default=1)
    site_id = models.UUIDField(null=True)
    body = models.JSONField(null=True)
    by_id = models.UUIDField(null=True)
    request_id = models.CharField(max_length=64, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["transaction", "id"], name="change_feed_order"),
            models.Index(fields=["noun_id"], name="change_of_noun"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.noun_id}"
