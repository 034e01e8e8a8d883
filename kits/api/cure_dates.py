"""Cure dates as packs carry them: a day or a quarter."""

import datetime
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from kits.calculations.storage_life import CureUnreadable, parse_cure


@extend_schema_field(OpenApiTypes.STR)
class CureDateField(serializers.Field[datetime.date, str, str, Any]):
    """``2025-08-14`` or ``3Q2025``; a quarter counts as its last day."""

    def to_internal_value(self, data: Any) -> datetime.date:
        try:
            return parse_cure(str(data))
        except CureUnreadable as error:
            raise serializers.ValidationError(str(error), code="cure-date-unreadable") from error

    def to_representation(self, value: datetime.date) -> str:
        return value.isoformat()
