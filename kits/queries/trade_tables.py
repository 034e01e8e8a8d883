"""Reading the tables of seal faces, lubricants, scopes and targets. Every signed-in principal may."""

import uuid

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import OuterRef, QuerySet

from kits.models import (
    AssemblyCaution,
    KitScope,
    KitScopeRole,
    Lubricant,
    LubricantAdvice,
    SealFace,
    SealFaceRating,
    ServiceTarget,
)
from services.identity.callers import Caller


def seal_faces(*, by: Caller) -> QuerySet[SealFace]:
    """All seal face materials."""
    return SealFace.objects.all()


def seal_face_ratings(*, by: Caller) -> QuerySet[SealFaceRating]:
    """Ratings of all seal faces, a row a source."""
    return SealFaceRating.objects.all()


def lubricants(*, by: Caller) -> QuerySet[Lubricant]:
    """All assembly lubricants."""
    return Lubricant.objects.all()


def lubricant_verdicts(*, by: Caller) -> QuerySet[LubricantAdvice]:
    """Which lubricant each material bears, a row a source."""
    return LubricantAdvice.objects.all()


def assembly_cautions(*, by: Caller) -> QuerySet[AssemblyCaution]:
    """All cautions of assembly."""
    return AssemblyCaution.objects.all()


def kit_scopes(*, by: Caller) -> QuerySet[KitScope]:
    """All scopes that kits may have, each with the codes of its roles as ``role_codes``."""
    roles = KitScopeRole.objects.filter(kitscope=OuterRef("pk")).order_by("positionrole__code")
    return KitScope.objects.annotate(role_codes=ArraySubquery(roles.values("positionrole__code")))


def service_targets(*, by: Caller) -> QuerySet[ServiceTarget]:
    """The share of needs to be met from the shelf, by criticality."""
    return ServiceTarget.objects.all()


def lubricant_ids() -> dict[str, uuid.UUID]:
    """Ids of lubricants by code. One query."""
    return dict(Lubricant.objects.values_list("code", "id"))


def seal_face_ids() -> dict[str, uuid.UUID]:
    """Ids of seal faces by their letters. One query."""
    return dict(SealFace.objects.values_list("letters", "id"))
