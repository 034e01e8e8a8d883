"""Readings in requests and answers: a list, or by the names of groups and places."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from jobs.calculations.readings import number_read

MOST_READINGS = 200
_NUMBER = {"type": "string", "format": "decimal"}
_LIST = {"type": "array", "items": _NUMBER}
_BY_PLACE = {"type": "object", "additionalProperties": _NUMBER}
SHAPE = {
    "description": (
        'A list in the order asked for, or by name: of places ({"top": "0.00", "right": "0.02", …}), of groups '
        '({"bore": ["50.02", "50.03"], "shaft": ["49.98"]}), or of both. The characteristic\'s asks says which.'
    ),
    "oneOf": [_LIST, {"type": "object", "additionalProperties": {"oneOf": [_NUMBER, _LIST, _BY_PLACE]}}],
}


@extend_schema_field(SHAPE)
class ReadingsShape(serializers.JSONField):
    """As a measurement keeps them."""


@extend_schema_field(SHAPE)
class ReadingsIn(serializers.Field[Any, Any, Any, Any]):
    """As they come: every number becomes a Decimal; names and numbers of readings are the rule's business."""

    _number = serializers.DecimalField(max_digits=18, decimal_places=6)

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, (list, Mapping)) or not data:
            raise serializers.ValidationError("Send a list of numbers, or numbers by name.")
        found = self._read(data, 0)
        if _count(found) > MOST_READINGS:
            raise serializers.ValidationError(f"At most {MOST_READINGS} readings at once.")
        return found

    def _read(self, data: Any, depth: int) -> Any:
        pairs = list(data.items()) if isinstance(data, Mapping) else list(enumerate(data))
        if len(pairs) > MOST_READINGS:
            raise serializers.ValidationError(f"At most {MOST_READINGS} readings at once.")
        found: dict[Any, Any] = {}
        errors: dict[str, Any] = {}
        for name, one in pairs:
            nested = isinstance(one, (list, Mapping))
            try:
                if nested and (depth or not isinstance(data, Mapping) or not one):
                    raise serializers.ValidationError("A number is wanted here.")
                found[name] = self._read(one, depth + 1) if nested else self._as_read(one)
            except serializers.ValidationError as error:
                errors[str(name)] = error.detail
        if errors:
            raise serializers.ValidationError(errors)
        return found if isinstance(data, Mapping) else list(found.values())

    def _as_read(self, one: Any) -> Decimal:
        """With the places that were read, no more: 0.10 tells another resolution than 0.1."""
        self._number.run_validation(one)
        number = number_read(str(one))
        if number is None:
            raise serializers.ValidationError("A plain number is wanted here.")
        return number

    def to_representation(self, value: Any) -> Any:
        return value


def _count(value: Any) -> int:
    if isinstance(value, Decimal):
        return 1
    return sum(_count(one) for one in (value.values() if isinstance(value, Mapping) else value))


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string"},
            {
                "type": "object",
                "properties": {"value": _NUMBER, "unit": {"type": "string"}},
                "required": ["value", "unit"],
                "additionalProperties": False,
            },
        ]
    }
)
class GivenValue(serializers.CharField):
    """A number in the unit that ends its name, a word, or a value with another unit of the same kind."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping) and set(data) == {"value", "unit"}:
            return {name: super(GivenValue, self).to_internal_value(one) for name, one in data.items()}
        if isinstance(data, (Mapping, list)):
            raise serializers.ValidationError("Send a number, a word, or a value and a unit.")
        return super().to_internal_value(data)

    def run_validators(self, value: Any) -> None:
        for one in value.values() if isinstance(value, dict) else [value]:
            super().run_validators(one)


class GivenIn(serializers.DictField):
    """Values by name, numbers as numbers or texts, or with a unit of their own."""

    def __init__(self, **more: Any) -> None:
        super().__init__(child=GivenValue(max_length=60), allow_empty=True, **more)


class ResultShape(serializers.Serializer[Any]):
    name = serializers.CharField()
    value = serializers.CharField()
    unit = serializers.CharField()
    words = serializers.CharField()


class BudgetLineShape(serializers.Serializer[Any]):
    name = serializers.CharField(help_text="calibration, resolution, repeatability, temperature …")
    of = serializers.CharField(help_text="The readings it comes from; empty where there is one group.")
    standard_uncertainty = serializers.CharField(help_text="Of the input, in unit.")
    unit = serializers.CharField()
    sensitivity = serializers.CharField(help_text="How much the value changes for one of it.")
    contribution = serializers.CharField(help_text="Sensitivity times standard uncertainty, in contribution_unit.")
    contribution_unit = serializers.CharField()
    degrees_of_freedom = serializers.CharField(allow_null=True, help_text="Null for infinitely many.")
    words = serializers.CharField(help_text="How it was had.")


class ReasonShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    sentence = serializers.CharField()
