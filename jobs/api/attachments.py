"""Photos and documents of jobs: taken as a form or as JSON, handed out as downloads only."""

import base64
import binascii
import uuid
from typing import Any
from urllib.parse import quote

import django_filters
from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.core.files.storage import default_storage
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from drf_spectacular.types import OpenApiTypes
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.operations.attachments import attach_file
from jobs.queries.attachments import attachment_for, attachments
from services.api.filters import CountingNumberFilter, Filters
from services.api.parsing import StrictJsonParser
from services.api.refusals import FieldProblem, InvalidValue, NotThere
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, created
from services.identity.callers import Caller, caller_of

TAG = "Attachments"
FORM_AROUND_IT = 64 * 1024
# Whatever a file holds, a browser that is led to it saves it, and runs nothing of it.
SAFE = {
    "X-Content-Type-Options": "nosniff",
    "Content-Security-Policy": "sandbox; default-src 'none'; frame-ancestors 'none'",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "private, max-age=3600, immutable",
}


class FormParser(MultiPartParser):
    """A form with a file. One that says it is far too large is refused before any of it is written to disk."""

    def parse(self, stream: Any, media_type: str | None = None, parser_context: Any = None) -> Any:
        length = stream.META.get("CONTENT_LENGTH") or 0
        if int(length) > settings.ATTACHMENT_MOST_BYTES + FORM_AROUND_IT:
            raise RequestDataTooBig
        return super().parse(stream, media_type, parser_context)


class AttachmentRow(Rows):
    id = serializers.UUIDField()
    job = serializers.UUIDField()
    job_number = serializers.CharField(source="job.number")
    name = serializers.CharField()
    caption = serializers.CharField()
    media_type = serializers.CharField(source="file.media_type")
    size = serializers.IntegerField(source="file.size", help_text="Bytes.")
    sha256 = serializers.CharField(source="file.sha256", help_text="Of what is kept.")
    received_sha256 = serializers.CharField(source="file.received_sha256", help_text="Of what was handed in.")
    cleaned = serializers.BooleanField(source="file.cleaned", help_text="Facts about place and device were taken out.")
    step = serializers.IntegerField(source="step_number", allow_null=True)
    finding = serializers.UUIDField(allow_null=True)
    measurement = serializers.UUIDField(allow_null=True)
    nonconformity = serializers.UUIDField(allow_null=True)
    by = serializers.CharField(source="by.name")
    occurred_at = serializers.DateTimeField()
    recorded_at = serializers.DateTimeField()


class AttachmentIn(Body):
    id = serializers.UUIDField(required=False, help_text="A UUID made by the client.")
    file = serializers.FileField(required=False, help_text="The file, in a form.")
    content = serializers.CharField(required=False, help_text="The file in base64, in JSON.")
    name = serializers.CharField(max_length=200, required=False, help_text="What to call it; the file's own name.")
    caption = serializers.CharField(max_length=300, required=False)
    step = serializers.IntegerField(required=False, min_value=1)
    finding = serializers.UUIDField(required=False)
    measurement = serializers.UUIDField(required=False)
    nonconformity = serializers.UUIDField(required=False)
    occurred_at = serializers.DateTimeField(required=False)


class AttachmentFilters(Filters):
    step = CountingNumberFilter("step_number", help_text="The step's number.")
    finding = django_filters.UUIDFilter("finding_id", help_text="The finding's id.")
    measurement = django_filters.UUIDFilter("measurement_id", help_text="The measurement's id.")
    nonconformity = django_filters.UUIDFilter("nonconformity_id", help_text="The nonconformity's id.")

    class Meta:
        fields: list[str] = []


def _row(by: Caller, attachment_id: Any) -> dict[str, Any] | None:
    return AttachmentRow.select(attachments(by=by).filter(pk=attachment_id)).first()


def _content(body: dict[str, Any]) -> tuple[bytes, str]:
    """What was handed in, and under which name. Raises `InvalidValue`."""
    sent, coded = body.pop("file", None), body.pop("content", None)
    name = body.pop("name", "")
    if (sent is None) == (coded is None):
        raise InvalidValue(
            "There is no file, or there are two.",
            remedy="Send a form with the part file, or JSON with content in base64.",
            pointer="#/file",
        )
    if sent is not None:
        return sent.read(), name or sent.name
    try:
        return base64.b64decode(coded, validate=True), name
    except (binascii.Error, ValueError) as error:
        raise InvalidValue(
            "content is not base64.",
            remedy="Encode the file's bytes after RFC 4648, without line breaks.",
            problems=[FieldProblem("#/content", "not-base64", "It cannot be decoded.")],
        ) from error


class JobAttachmentsView(ListView):
    rows = AttachmentRow
    filters = AttachmentFilters
    order = ("id",)
    parser_classes = [StrictJsonParser, FormParser]

    def rows_for(self, request: Request) -> Any:
        return attachments(by=caller_of(request)).filter(job_id=self.kwargs["job"])

    @describe(
        summary="Photos and documents of a job",
        tag=TAG,
        responses=page_of(AttachmentRow),
        filters=AttachmentFilters,
        operation_id="job_attachments_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Attach a photo or document to a job",
        tag=TAG,
        request=AttachmentIn,
        responses=AttachmentRow,
        status=201,
        description=(
            "JPEG, PNG, WebP or PDF, told by the content. To the job, or to one step, finding, measurement or "
            "nonconformity of it. Pictures lose what they tell about place and device; the same content is kept once."
        ),
        request_example={
            "name": "raceway.jpg",
            "content": "/9j/4AAQSkZJRgABAQ...",
            "step": 30,
            "caption": "outer ring, load zone",
        },
    )
    def post(self, request: Request, job: uuid.UUID) -> Response:
        body = read_body(request, AttachmentIn)
        content, name = _content(body)
        named = {f"{one}_id": body.pop(one, None) for one in ("finding", "measurement", "nonconformity")} | {
            "attachment_id": body.pop("id", None)
        }

        def perform() -> Answer:
            made = attach_file(by=caller_of(request), job_id=job, content=content, name=name, **named, **body)
            return created(_row(caller_of(request), made.pk) or {}, f"/api/v1/attachments/{made.pk}")

        return answer_write(request, perform)


class AttachmentView(APIView):
    @describe(summary="One attachment", tag=TAG, responses=AttachmentRow, operation_id="attachments_read")
    def get(self, request: Request, attachment: uuid.UUID) -> Response:
        return answer_one(request, _row(caller_of(request), attachment), "The attachment")


class AttachmentContentView(APIView):
    @describe(
        summary="Download an attachment",
        tag=TAG,
        responses=OpenApiTypes.BINARY,
        description="As a download, never to be shown in place: it is what somebody handed in.",
        operation_id="attachments_content",
    )
    def get(self, request: Request, attachment: uuid.UUID) -> HttpResponseBase:
        found = attachment_for(caller_of(request), attachment)
        tag = f'"{found.file.sha256}"'
        if request.headers.get("If-None-Match", "").strip().removeprefix("W/") == tag:
            return HttpResponse(status=304, headers={**SAFE, "ETag": tag})
        try:
            content = default_storage.open(found.file.place, "rb")
        except FileNotFoundError as error:
            raise NotThere(
                "The file is not in the store any more; what is recorded of it stays.",
                remedy="Tell whoever keeps the service: by its sha256 the file is found in a backup.",
            ) from error
        answer = FileResponse(content, content_type=found.file.media_type)
        plain = found.name.encode("ascii", "replace").decode().replace("?", "_")
        headers = {
            **SAFE,
            "ETag": tag,
            "Content-Length": str(found.file.size),
            "Content-Disposition": f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(found.name)}",
        }
        for name, value in headers.items():
            answer[name] = value
        return answer
