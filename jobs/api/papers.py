"""Papers of a job as PDF: the job sheet before the work, the overhaul record after it."""

import re
import uuid
from typing import Any

import django_filters
from django.conf import settings
from drf_spectacular.types import OpenApiTypes
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.labels import PdfRenderer
from jobs.calculations.job_sheet import job_sheet_content
from jobs.calculations.overhaul_record import overhaul_record_content
from jobs.calculations.paper_pdf import PAPERS, content_tag, paper_pdf
from jobs.operations.job_sheets import sheet_data
from jobs.queries.printed_jobs import record_data
from services.api.filters import Filters, read_parameters
from services.api.schema import describe
from services.identity.callers import caller_of

TAG = "Papers"
WORDS = (
    "Equal content gives equal bytes, and an `ETag`. Figures are converted exactly; both units of a limit are shown, "
    "and one that was converted is rounded to the safe side."
)


class PaperParameters(Filters):
    paper = django_filters.ChoiceFilter(
        choices=[(one, one) for one in PAPERS], help_text="a4 or letter; a4 if left out."
    )
    units = django_filters.ChoiceFilter(
        choices=[("metric", "metric"), ("inch", "inch")],
        help_text="Which comes first, metric or inch; metric if left out.",
    )

    class Meta:
        fields: list[str] = []


def _asked(request: Request) -> tuple[str, Any]:
    given = read_parameters(request, PaperParameters)
    return given.get("paper") or "a4", given.get("units") or "metric"


def _answer(request: Request, template: str, content: dict[str, Any], paper: str, job: dict[str, Any]) -> Response:
    tag = f'"{content_tag(content, paper=paper)}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache", "Vary": "Accept, Authorization"}
    if tag in request.headers.get("If-None-Match", ""):
        return Response(None, status=304, headers=headers)
    # A number that came from a file may hold whatever somebody wrote there.
    number = re.sub(r"[^A-Za-z0-9.-]+", "_", job["number"])
    name = f"{template.removesuffix('.typ').replace('_', '-')}-{number}.pdf"
    headers["Content-Disposition"] = f'inline; filename="{name}"'
    pdf = paper_pdf(template, content, paper=paper, at=job["closed_at"] or job["updated_at"])
    return Response(pdf, headers=headers, content_type="application/pdf")


class JobSheetPaperView(APIView):
    renderer_classes = [PdfRenderer]

    @describe(
        summary="The job sheet to print before the work",
        tag=TAG,
        responses=OpenApiTypes.BINARY,
        filters=PaperParameters,
        description=(
            "Steps by section with their cautions, limits resolved for this pump, kit, lubricants, tools and boxes to "
            f"write in. Before the job begins, the steps are those it would begin with now. {WORDS}"
        ),
        operation_id="job_sheets_print",
    )
    def get(self, request: Request, job: uuid.UUID) -> Response:
        paper, units = _asked(request)
        data = sheet_data(by=caller_of(request), job_id=job)
        return _answer(request, "job_sheet.typ", job_sheet_content(data, units=units), paper, data["job"])


class OverhaulRecordView(APIView):
    renderer_classes = [PdfRenderer]

    @describe(
        summary="The overhaul record to keep after the work",
        tag=TAG,
        responses=OpenApiTypes.BINARY,
        filters=PaperParameters,
        description=(
            "Measurements with uncertainty and verdict, parts, nonconformities, concessions, signatures, how the pump "
            f"has worn, and once signed off its hash and a QR code to verify it. {WORDS}"
        ),
        operation_id="overhaul_records_print",
    )
    def get(self, request: Request, job: uuid.UUID) -> Response:
        paper, units = _asked(request)
        data = record_data(by=caller_of(request), job_id=job)
        content = overhaul_record_content(data, units=units, public_address=settings.PUBLIC_ADDRESS)
        return _answer(request, "overhaul_record.typ", content, paper, data["job"])
