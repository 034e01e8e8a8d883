"""Principals: people, service accounts, and later OAuth clients. Grants that say what they may do live in assets."""

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower, Now

from services.api.identifiers import new_id
from services.api.models import Record

READ, WRITE, AVAILABILITY = "read", "write", "availability"
SCOPES = (READ, WRITE, AVAILABILITY)


class Principals(BaseUserManager["Principal"]):
    def get_by_natural_key(self, username: str | None) -> "Principal":
        return self.get(login__iexact=username)


class Principal(AbstractBaseUser):
    """Anyone or anything that calls: every record of who did what refers to one."""

    class Kind(models.TextChoices):
        PERSON = "person"
        SERVICE = "service"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.PERSON)
    login = models.CharField(max_length=80)
    name = models.CharField(max_length=120)
    is_active = models.BooleanField(default=True)
    sees_availability = models.BooleanField(
        default=False, help_text="May see free quantities of every site, whatever the grants."
    )
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(db_default=Now(), editable=False)
    updated_at = models.DateTimeField(db_default=Now(), editable=False)

    USERNAME_FIELD = "login"
    REQUIRED_FIELDS = ["name"]
    objects: ClassVar[Principals] = Principals()

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("login"), name="login_is_used_once"),
            models.CheckConstraint(condition=Q(kind__in=["person", "service"]), name="principal_kind_is_known"),
        ]

    def __str__(self) -> str:
        return self.login


class AccessToken(Record):
    """A secret for programs and phones. Only its SHA-256 is kept; the secret itself is shown once."""

    principal = models.ForeignKey(Principal, models.PROTECT, related_name="tokens")
    name = models.CharField(max_length=80)
    key_id = models.CharField(max_length=16, unique=True)
    digest = models.BinaryField(max_length=32)
    scopes = ArrayField(models.CharField(max_length=20))
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True)
    last_used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"{self.key_id} of {self.principal_id}"
