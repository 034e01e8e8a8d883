"""The record of a job, its link in the chain, and whether they hold."""

import uuid
from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.queries.job_record_views import record_by_hash, record_of, whole_hash
from services.api.filters import check_parameters
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Records"


class RecordLinkShape(serializers.Serializer[Any]):
    number = serializers.IntegerField(help_text="Its place in the chain over all closed jobs.")
    at = serializers.DateTimeField()
    previous_mac = serializers.CharField(help_text="The seal of the link before; zeros for the first.")
    key_id = serializers.CharField()
    mac = serializers.CharField(help_text="HMAC-SHA256 over the canonical JSON of the link.")


class RecordFaultShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    place = serializers.CharField()
    sentence = serializers.CharField()


class RecordVerdictShape(serializers.Serializer[Any]):
    holds = serializers.BooleanField(
        allow_null=True, help_text="null: not signed off, so there is nothing to verify; or its key is not at hand."
    )
    words = serializers.CharField()
    faults = RecordFaultShape(many=True)


class JobRecordShape(serializers.Serializer[Any]):
    job = serializers.UUIDField()
    number = serializers.CharField()
    state = serializers.CharField()
    signed = serializers.BooleanField()
    content = serializers.DictField(help_text="What was signed; before that, what would be.")
    content_hash = serializers.CharField(help_text="SHA-256 over the canonical JSON (RFC 8785) of the content.")
    link = RecordLinkShape(allow_null=True)
    verification = RecordVerdictShape()


class RecordVerification(serializers.Serializer[Any]):
    job = serializers.UUIDField()
    number = serializers.CharField()
    pump = serializers.UUIDField()
    pump_tag = serializers.CharField()
    serial_number = serializers.CharField()
    signed_by = serializers.CharField()
    signed_at = serializers.DateTimeField()
    content_hash = serializers.CharField()
    link = RecordLinkShape(allow_null=True)
    verification = RecordVerdictShape()


class JobRecordView(APIView):
    @describe(
        summary="The record of a job, its hash and link, and whether they hold",
        tag=TAG,
        responses=JobRecordShape,
        description=(
            "Compares what was signed with what the tables hold now, and checks hash, seal and the link before. Sign "
            "off with `content_hash` as `record` to sign exactly what you read here."
        ),
        operation_id="job_records_read",
    )
    def get(self, request: Request, job: uuid.UUID) -> Response:
        check_parameters(request, [])
        found = record_of(by=caller_of(request), job_id=job)
        return Response(found, headers={"Cache-Control": "private, no-store"})


class RecordVerificationView(APIView):
    @describe(
        summary="Whether a printed record is the one that was signed",
        tag=TAG,
        responses=RecordVerification,
        description="By the hash that stands on the overhaul record and in its QR code, with or without `sha256:`.",
        operation_id="record_verifications_read",
    )
    def get(self, request: Request, digest: str) -> Response:
        check_parameters(request, [])
        found = record_by_hash(by=caller_of(request), content_hash=whole_hash(digest))
        return Response(found, headers={"Cache-Control": "private, no-store"})
