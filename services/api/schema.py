"""The OpenAPI description: headers, problems and pages are added here once, not at every endpoint."""

from collections.abc import Mapping, Sequence
from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, extend_schema, inline_serializer
from rest_framework import serializers

KEY_HEADER = OpenApiParameter(
    "Idempotency-Key",
    str,
    OpenApiParameter.HEADER,
    description="A fresh UUID for each new request. A repeat with the same key and body gets the stored answer.",
)
IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    required=True,
    description='The ETag of the version this decision was made on, for example "3".',
)
LIST_CONTROLS = [
    OpenApiParameter("limit", int, description="Rows a page, 1 to 200 (default 50)."),
    OpenApiParameter("cursor", str, description="From next or previous; opaque."),
    OpenApiParameter("count", str, enum=["exact", "estimate"], description="Also answer how many rows there are."),
    OpenApiParameter("fields", str, description="Only these fields, separated by commas."),
]


class Schema(AutoSchema):
    """Adds the shared headers and list controls."""

    def get_override_parameters(self) -> list[Any]:
        extra: list[Any] = []
        if self.method == "POST":
            extra.append(KEY_HEADER)
        if self.method == "GET" and hasattr(self.view, "rows_for"):
            extra.extend(LIST_CONTROLS)
        return extra

    def get_filter_backends(self) -> list[Any]:
        return []


def page_of(rows: type[serializers.BaseSerializer[Any]]) -> Any:
    """The page envelope of a row type."""
    name = rows.__name__.removesuffix("Row")
    return inline_serializer(
        f"{name}Page",
        {
            "results": rows(many=True),
            "next": serializers.CharField(allow_null=True),
            "previous": serializers.CharField(allow_null=True),
            "count": serializers.IntegerField(required=False),
        },
    )


def filter_parameters(filters: Any) -> list[OpenApiParameter]:
    """The query parameters of a filter set."""
    kinds = {
        "NumberFilter": float,
        "CountingNumberFilter": int,
        "BooleanFilter": bool,
        "DateFilter": str,
        "IsoDateTimeFilter": str,
        "UUIDFilter": str,
    }
    found = []
    for name, one in (filters.base_filters if filters else {}).items():
        words = one.extra.get("help_text") or f"{name.replace('__', ' ').replace('_', ' ')}."
        found.append(OpenApiParameter(name, kinds.get(type(one).__name__, str), description=words))
    return found


def describe(
    *,
    summary: str,
    tag: str,
    responses: Any,
    request: Any = None,
    status: int = 200,
    filters: Any = None,
    if_match: bool = False,
    parameters: Sequence[OpenApiParameter] = (),
    example: Any = None,
    request_example: Any = None,
    request_examples: Mapping[str, Any] | None = None,
    description: str = "",
    operation_id: str | None = None,
) -> Any:
    """Describe one method of an endpoint: ``responses`` is the serializer of its success answer."""
    examples = []
    if example is not None:
        examples.append(OpenApiExample("An answer", value=example, response_only=True, status_codes=[str(status)]))
    if request_example is not None:
        examples.append(OpenApiExample("A request", value=request_example, request_only=True))
    for name, value in (request_examples or {}).items():
        examples.append(OpenApiExample(name, value=value, request_only=True))
    return extend_schema(
        operation_id=operation_id,
        summary=summary,
        description=description or summary,
        tags=[tag],
        request=request,
        responses={status: responses},
        parameters=[*parameters, *filter_parameters(filters), *([IF_MATCH] if if_match else [])],
        examples=examples,
    )


PROBLEM = {
    "type": "object",
    "description": "RFC 9457 problem details.",
    "required": ["type", "title", "status", "detail", "instance", "code", "request_id"],
    "properties": {
        "type": {"type": "string", "description": "Address of the explanation of this code."},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string", "description": "What is wrong, in words."},
        "remedy": {"type": "string", "description": "What would help."},
        "instance": {"type": "string"},
        "code": {"type": "string", "description": "Branch on this, never on the words."},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "pointer": {
                        "type": "string",
                        "description": "JSON Pointer, ?parameter or a header's name.",
                    },
                    "code": {"type": "string"},
                    "detail": {"type": "string"},
                },
            },
        },
        "request_id": {"type": "string"},
    },
}
STATUSES = {
    "get": ("400", "401", "403", "404", "406", "429", "503"),
    "post": ("400", "401", "403", "404", "409", "412", "413", "415", "422", "428", "429", "503"),
    "patch": ("400", "401", "403", "404", "409", "412", "413", "415", "422", "428", "429", "503"),
    "delete": ("400", "401", "403", "404", "409", "412", "428", "429", "503"),
}
WORDS = {
    "400": "Could not be read", "401": "Not signed in", "403": "Not allowed", "404": "Not there, or not yours to know",
    "406": "No such media type", "409": "Conflict with the present state", "412": "Changed since it was read",
    "413": "Too large", "415": "Unsupported media type", "422": "Understood but wrong",
    "428": "If-Match is required", "429": "Too many requests", "503": "Not available for the moment",
}  # fmt: skip


def document_problems(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Post-processing hook: every operation answers problems in one shape."""
    result.setdefault("components", {}).setdefault("schemas", {})["Problem"] = PROBLEM
    content = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for operations in result["paths"].values():
        for method, operation in operations.items():
            for status in STATUSES.get(method, ()):
                operation["responses"].setdefault(status, {"description": WORDS[status], "content": content})
    return result
