"""Sites and bins."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from assets.models import Bin, Site
from assets.operations.sites import change_bin, change_site, register_bin, register_site
from assets.queries.sites import bins, sites
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Sites"


class SiteRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    time_zone = serializers.CharField()
    is_central_store = serializers.BooleanField()
    latitude = serializers.DecimalField(max_digits=8, decimal_places=5, allow_null=True)
    longitude = serializers.DecimalField(max_digits=8, decimal_places=5, allow_null=True)
    external_ids = serializers.DictField(child=serializers.CharField())
    version = serializers.IntegerField()


class Degrees(serializers.DecimalField):
    """Where a site lies, for finding the nearest other one."""

    def __init__(self, furthest: int, words: str) -> None:
        super().__init__(
            max_digits=8, decimal_places=5, min_value=-furthest, max_value=furthest, required=False, allow_null=True,
            help_text=words,
        )  # fmt: skip


class SiteIn(Body):
    id = serializers.UUIDField(required=False)
    code = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120)
    time_zone = serializers.CharField(max_length=60, help_text="As in the tz database, such as Europe/Oslo.")
    is_central_store = serializers.BooleanField(required=False)
    latitude = Degrees(90, "Degrees, WGS 84, north positive; together with longitude.")
    longitude = Degrees(180, "Degrees, WGS 84, east positive.")


class SiteChange(Body):
    name = serializers.CharField(max_length=120, required=False)
    time_zone = serializers.CharField(max_length=60, required=False)
    is_central_store = serializers.BooleanField(required=False)
    latitude = Degrees(90, "Degrees, WGS 84, north positive; together with longitude.")
    longitude = Degrees(180, "Degrees, WGS 84, east positive.")
    external_ids = serializers.DictField(child=serializers.CharField(max_length=120), required=False)


class SiteFilters(Filters):
    code = django_filters.CharFilter(help_text="The site's code.")
    is_central_store = django_filters.BooleanFilter(help_text="Only central stores, or only the others.")

    class Meta:
        model = Site
        fields: list[str] = []


def _site(by: Caller, site_id: Any) -> dict[str, Any] | None:
    return SiteRow.select(sites(by=by).filter(pk=site_id)).first()


class SitesView(ListView):
    rows = SiteRow
    filters = SiteFilters
    order = ("code", "id")

    def rows_for(self, request: Request) -> Any:
        return sites(by=caller_of(request))

    @describe(
        summary="List sites granted to you",
        tag=TAG,
        responses=page_of(SiteRow),
        filters=SiteFilters,
        operation_id="sites_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a site",
        tag=TAG,
        request=SiteIn,
        responses=SiteRow,
        status=201,
        request_example={"code": "west-pier", "name": "West Pier Waterworks", "time_zone": "Europe/Oslo"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, SiteIn)

        def perform() -> Answer:
            made = register_site(by=caller_of(request), site_id=body.pop("id", None), **body)
            return created(_site(caller_of(request), made.pk) or {}, f"/api/v1/sites/{made.pk}")

        return answer_write(request, perform, key_required=True)


class SiteView(APIView):
    @describe(summary="One site", tag=TAG, responses=SiteRow, operation_id="sites_read")
    def get(self, request: Request, site: uuid.UUID) -> Response:
        return answer_one(request, _site(caller_of(request), site), "The site")

    @describe(
        summary="Change a site",
        tag=TAG,
        request=SiteChange,
        responses=SiteRow,
        if_match=True,
        request_example={"name": "West Pier"},
    )
    def patch(self, request: Request, site: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SiteChange, partial=True)

        def perform() -> Answer:
            change_site(by=caller_of(request), site_id=site, expected_version=version, **body)
            return changed(_site(caller_of(request), site) or {})

        return answer_write(request, perform)


class BinRow(Rows):
    id = serializers.UUIDField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    code = serializers.CharField()
    name = serializers.CharField()
    is_default = serializers.BooleanField()
    version = serializers.IntegerField()


class BinIn(Body):
    id = serializers.UUIDField(required=False)
    site = serializers.UUIDField()
    code = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    is_default = serializers.BooleanField(required=False)


class BinChange(Body):
    name = serializers.CharField(max_length=120, required=False, allow_blank=True)
    is_default = serializers.BooleanField(required=False)


class BinFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    code = django_filters.CharFilter(help_text="The bin's code.")

    class Meta:
        model = Bin
        fields: list[str] = []


def _bin(by: Caller, bin_id: Any) -> dict[str, Any] | None:
    return BinRow.select(bins(by=by).filter(pk=bin_id)).first()


class BinsView(ListView):
    rows = BinRow
    filters = BinFilters
    order = ("site__code", "code", "id")

    def rows_for(self, request: Request) -> Any:
        return bins(by=caller_of(request))

    @describe(summary="List bins", tag=TAG, responses=page_of(BinRow), filters=BinFilters, operation_id="bins_list")
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a bin",
        tag=TAG,
        request=BinIn,
        responses=BinRow,
        status=201,
        request_example={"site": "0199a0c4-0000-7000-8000-000000000001", "code": "A-03"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, BinIn)

        def perform() -> Answer:
            made = register_bin(by=caller_of(request), site_id=body.pop("site"), bin_id=body.pop("id", None), **body)
            return created(_bin(caller_of(request), made.pk) or {}, f"/api/v1/bins/{made.pk}")

        return answer_write(request, perform, key_required=True)


class BinView(APIView):
    @describe(summary="One bin", tag=TAG, responses=BinRow, operation_id="bins_read")
    def get(self, request: Request, bin: uuid.UUID) -> Response:
        return answer_one(request, _bin(caller_of(request), bin), "The bin")

    @describe(
        summary="Rename a bin, or make it the default one",
        tag=TAG,
        request=BinChange,
        responses=BinRow,
        if_match=True,
        request_example={"is_default": True},
    )
    def patch(self, request: Request, bin: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, BinChange, partial=True)

        def perform() -> Answer:
            change_bin(by=caller_of(request), bin_id=bin, expected_version=version, **body)
            return changed(_bin(caller_of(request), bin) or {})

        return answer_write(request, perform)
