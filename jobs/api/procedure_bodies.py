"""What requests about procedures hold."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

from jobs.calculations.procedure_text import LARGEST_TEXT, ReadText
from jobs.operations.procedure_soundness import read_procedure
from services.api.refusals import InvalidValue
from services.api.rows import Body

DOCUMENT_EXAMPLE: dict[str, Any] = {
    "code": "OVERHAUL-IN-LINE",
    "title": "Overhaul of an in-line circulating pump",
    "configuration": "in-line",
    "revision": 2,
    "sections": [
        {
            "section": "make-safe",
            "steps": [
                {
                    "number": 10,
                    "title": "Isolate every source of energy",
                    "instruction": "Isolate supply, suction and discharge; lock and tag each.",
                    "signal_word": "danger",
                    "caution": "A pump that starts kills.",
                    "achieves": ["isolate", "lock-and-tag"],
                    "conditions": ["temperature_max >= 55 degC"],
                }
            ],
        }
    ],
}


class WrittenBody(Body):
    text = serializers.CharField(
        required=False, max_length=LARGEST_TEXT, trim_whitespace=False, help_text="The procedure as YAML."
    )
    document = serializers.DictField(required=False, help_text="The procedure as JSON.")


class DraftIn(WrittenBody):
    id = serializers.UUIDField(required=False, help_text="For a draft that does not exist yet.")


class ContentChange(WrittenBody):
    """Either of the two."""


class CheckedProcedureIn(WrittenBody):
    """Either of the two."""


class CopyIn(Body):
    id = serializers.UUIDField(required=False)
    revision = serializers.IntegerField(required=False, min_value=1, max_value=2_147_483_647)


class RemarksIn(Body):
    remarks = serializers.CharField(required=False, max_length=4000, help_text="Kept with what was done.")


class MendIn(Body):
    remarks = serializers.CharField(max_length=4000, help_text="What is to be mended.")


class WithdrawalIn(Body):
    reason = serializers.CharField(max_length=4000, help_text="Why it must not be used any more.")


def content_of(body: Mapping[str, Any]) -> tuple[Any, ReadText | None]:
    """The document of a body, and its text with places where it came as one. Raises `InvalidValue`,
    `ProcedureUnsound`."""
    one_of_both(body)
    if "text" in body:
        read = read_procedure(body["text"])
        return read.document, read
    return body["document"], None


def one_of_both(body: Mapping[str, Any]) -> None:
    """Raises `InvalidValue` unless there is a text or a document, and not both."""
    if ("text" in body) == ("document" in body):
        raise InvalidValue(
            "The procedure comes either as text or as document.",
            remedy="Send text with YAML, or document with JSON, one of the two.",
            pointer="#/text",
        )
