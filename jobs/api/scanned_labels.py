"""What a scanned code leads to."""

import uuid
from typing import Any

import django_filters
from django.utils import timezone
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from jobs.api.labels import TAG, code_of
from jobs.queries.scanned_labels import scanned
from services.api.filters import Filters, check_parameters
from services.api.refusals import Malformed
from services.api.rows import Body, read_body
from services.api.schema import describe
from services.identity.callers import caller_of


def _quantity(**options: Any) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=12, decimal_places=3, **options)


class WarningShape(serializers.Serializer[Any]):
    signal_word = serializers.CharField(help_text="danger, warning, caution or notice; the gravest come first.")
    code = serializers.CharField(
        help_text=(
            "make-safe, fluid-hazard, fluid-temperature, lot-expired, lot-expiring, lot-quarantined, kit-withdrawn, "
            "kit-draft or label-replaced."
        )
    )
    text = serializers.CharField(help_text="Show it; never hide it or fold it away.")


class StockShape(serializers.Serializer[Any]):
    item = serializers.UUIDField()
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    item_name = serializers.CharField()
    lot = serializers.UUIDField()
    lot_number = serializers.CharField()
    site_code = serializers.CharField()
    bin_code = serializers.CharField()
    on_hand = _quantity()
    reserved = _quantity()
    condition = serializers.CharField(help_text="usable or quarantined.")
    expires_on = serializers.DateField(allow_null=True)
    days_left = serializers.IntegerField(allow_null=True, help_text="Negative once it is out of date.")
    may_be_fitted = serializers.BooleanField(help_text="Usable and in date.")


class PumpOfKitShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    tag = serializers.CharField()
    site_code = serializers.CharField()
    model_code = serializers.CharField()
    criticality = serializers.CharField()
    state = serializers.CharField()
    verdict = serializers.CharField(help_text="fits, fits-with-notes, incomplete or unsuitable.")


class ProcedureShape(serializers.Serializer[Any]):
    id = serializers.UUIDField(help_text="Of the revision.")
    code = serializers.CharField()
    title = serializers.CharField()
    revision = serializers.IntegerField()
    configuration = serializers.CharField()


class OpenJobShape(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    number = serializers.CharField()
    state = serializers.CharField()
    planned_start = serializers.DateField()
    pump_tag = serializers.CharField()
    site_code = serializers.CharField()
    kit_number = serializers.CharField()
    kit_revision = serializers.CharField()
    assignee_name = serializers.CharField(allow_null=True)


class ScannedKit(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    scope = serializers.CharField()
    scope_name = serializers.CharField()
    state = serializers.CharField(help_text="draft, released or withdrawn.")
    pending = serializers.BooleanField(help_text="Its fits are being computed anew.")
    lots = StockShape(many=True, help_text="What may be fitted, the first to expire first: take the first.")
    not_to_be_fitted = StockShape(many=True, help_text="Quarantined or out of date.")
    pumps = PumpOfKitShape(many=True, help_text="At your sites, the most critical first; at most 20.")
    more_pumps = serializers.BooleanField()
    unsuitable_for = PumpOfKitShape(many=True, help_text="A material would fail in these; at most 20.")
    more_unsuitable = serializers.BooleanField()
    procedures = ProcedureShape(many=True)
    jobs = OpenJobShape(many=True)


class HeldForShape(serializers.Serializer[Any]):
    job = serializers.UUIDField()
    number = serializers.CharField()
    need_date = serializers.DateField()
    quantity = _quantity()


class ScannedLot(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    number = serializers.CharField()
    item = serializers.UUIDField()
    item_kind = serializers.CharField(help_text="kit or part.")
    item_number = serializers.CharField()
    item_revision = serializers.CharField()
    item_name = serializers.CharField()
    received_on = serializers.DateField()
    cure_date = serializers.DateField(allow_null=True)
    expires_on = serializers.DateField(allow_null=True, help_text="The last day of use; null where nothing ages.")
    days_left = serializers.IntegerField(allow_null=True)
    extended_at = serializers.DateTimeField(allow_null=True)
    places = StockShape(many=True, help_text="Where it lies at your sites.")
    held_for = HeldForShape(many=True, help_text="Jobs that it is reserved for.")


class KitForPumpShape(serializers.Serializer[Any]):
    kit = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField()
    name = serializers.CharField()
    scope = serializers.CharField()
    verdict = serializers.CharField()
    free_at_site = _quantity()
    reasons = serializers.ListField(child=serializers.CharField(), help_text="What is not plainly the part asked for.")


class ScannedPump(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    tag = serializers.CharField()
    serial_number = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    criticality = serializers.CharField()
    state = serializers.CharField()
    variant = serializers.DictField()
    model_code = serializers.CharField()
    series = serializers.CharField()
    designation = serializers.CharField()
    configuration = serializers.CharField()
    fluid_name = serializers.CharField()
    hazard = serializers.CharField(help_text="Of the fluid; show it always.")
    temperature_min_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    temperature_max_c = serializers.DecimalField(max_digits=6, decimal_places=2)
    pending = serializers.BooleanField(help_text="Something changed; further kits may appear in a moment.")
    kits = KitForPumpShape(many=True, help_text="The best five.")
    procedures = ProcedureShape(many=True)
    jobs = OpenJobShape(many=True)


class ScannedBin(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    is_default = serializers.BooleanField()
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    site_name = serializers.CharField()
    contents = StockShape(many=True, help_text="The first to expire first.")


class ScannedLabel(serializers.Serializer[Any]):
    code = serializers.CharField()
    uri = serializers.CharField()
    state = serializers.CharField(help_text="active or replaced.")
    active_code = serializers.CharField(allow_null=True, help_text="The code that stands on the thing by now.")
    kind = serializers.CharField(help_text="kit, lot, pump or bin: the block of that name is filled.")
    on = serializers.DateField()
    warnings = WarningShape(many=True, help_text="What must be said first.")
    kit = ScannedKit(allow_null=True, help_text="Also for a lot of a kit.")
    lot = ScannedLot(allow_null=True)
    pump = ScannedPump(allow_null=True)
    bin = ScannedBin(allow_null=True)


class ScanParameters(Filters):
    site = django_filters.UUIDFilter(help_text="Only stock, pumps and jobs of this site; all your sites if left out.")


class ScanByCodeParameters(ScanParameters):
    code = django_filters.CharFilter(help_text="The code, or the whole address in the symbol.")


EXAMPLE = {
    "code": "7K3MP9QXZ4",
    "uri": "HTTPS://PUMPS.EXAMPLE.ORG/S/7K3MP9QXZ4",
    "state": "active",
    "active_code": "7K3MP9QXZ4",
    "kind": "bin",
    "on": "2026-11-25",
    "warnings": [
        {
            "signal_word": "warning",
            "code": "lot-expired",
            "text": "Do not fit: KIT-NB A, lot 14 (north, bin A-3) is out of date, the last day of use was 2026-09-30.",
        }
    ],
    "kit": None,
    "lot": None,
    "pump": None,
    "bin": {
        "id": "0199a0c4-0000-7000-8000-0000000000dd",
        "code": "A-3",
        "name": "Shelf by the door",
        "is_default": False,
        "site": "0199a0c4-0000-7000-8000-000000000001",
        "site_code": "north",
        "site_name": "North Waterworks",
        "contents": [
            {
                "item": "0199a0c4-0000-7000-8000-0000000000bb",
                "item_number": "KIT-NB",
                "item_revision": "A",
                "item_name": "Overhaul kit NB 40, EPDM",
                "lot": "0199a0c4-0000-7000-8000-0000000000cc",
                "lot_number": "14",
                "site_code": "north",
                "bin_code": "A-3",
                "on_hand": "1.000",
                "reserved": "0.000",
                "condition": "usable",
                "expires_on": "2026-09-30",
                "days_left": -56,
                "may_be_fitted": False,
            }
        ],
    },
}
WORDS = (
    "For a kit: its lots, the first to expire first, the pumps it fits, procedure and open jobs. For a lot: where it "
    "lies, how long it may be used, and its kit. For a pump: hazard, the best kits, procedure and open jobs. For a "
    "bin: what lies in it. Capitals, spaces and hyphens do not matter; I and L are read as 1, O as 0."
)


def answer_scan(request: Request, text: str, site: uuid.UUID | None, pointer: str | None = None) -> Response:
    """What the code in a text leads to, for the caller of a request."""
    found = scanned(by=caller_of(request), code=code_of(text, pointer), on=timezone.now().date(), site_id=site)
    return Response(found, headers={"Cache-Control": "private, no-store"})


def _site(request: Request) -> uuid.UUID | None:
    text = request.query_params.get("site")
    if text is None:
        return None
    try:
        return uuid.UUID(text)
    except ValueError as error:
        raise Malformed("site is no id.", remedy="Give a site's id.", pointer="?site") from error


class ScannedLabelView(APIView):
    @describe(
        summary="What a scanned code leads to",
        tag=TAG,
        responses=ScannedLabel,
        filters=ScanParameters,
        description=WORDS,
        example=EXAMPLE,
        operation_id="scanned_labels_read",
    )
    def get(self, request: Request, code: str) -> Response:
        check_parameters(request, ["site"])
        return answer_scan(request, code, _site(request))


class ScanIn(Body):
    code = serializers.CharField(max_length=500, help_text="The code, or the whole address in the symbol.")
    site = serializers.UUIDField(required=False, help_text="Only stock, pumps and jobs of this site.")


class ScannedLabelsView(APIView):
    reads_only = True

    @describe(
        summary="What a scanned code or address leads to",
        tag=TAG,
        responses=ScannedLabel,
        filters=ScanByCodeParameters,
        description=f"Takes what the scanner read unchanged, as ?code=. {WORDS}",
        example=EXAMPLE,
        operation_id="scanned_labels_find",
    )
    def get(self, request: Request) -> Response:
        check_parameters(request, ["code", "site"])
        return answer_scan(request, request.query_params.get("code", ""), _site(request), "?code")

    @describe(
        summary="What a scanned code or address leads to, asked in a body",
        tag=TAG,
        request=ScanIn,
        responses=ScannedLabel,
        description=f"Takes what the scanner read unchanged. Nothing is written. {WORDS}",
        request_example={"code": "HTTPS://PUMPS.EXAMPLE.ORG/S/7K3MP9QXZ4"},
        operation_id="scanned_labels_ask",
    )
    def post(self, request: Request) -> Response:
        check_parameters(request, [])
        body = read_body(request, ScanIn)
        return answer_scan(request, body["code"], body.get("site"), "#/code")
