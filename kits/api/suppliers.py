"""Suppliers and their terms."""

import uuid
from typing import Any

import django_filters
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from kits.models import Supplier, SupplierTerms
from kits.operations.suppliers import agree_terms, change_supplier, change_terms, register_supplier
from kits.queries.parts import supplier_terms, suppliers
from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of

TAG = "Suppliers"


class SupplierRow(Rows):
    id = serializers.UUIDField()
    code = serializers.CharField()
    name = serializers.CharField()
    minimum_order_value = serializers.DecimalField(
        max_digits=14, decimal_places=2, help_text="Smaller orders are not taken; 0: none is too small."
    )
    minimum_order_currency = serializers.CharField()
    version = serializers.IntegerField()


class SupplierChange(Body):
    name = serializers.CharField(max_length=120)
    minimum_order_value = serializers.DecimalField(max_digits=14, decimal_places=2, min_value=0, required=False)
    minimum_order_currency = serializers.RegexField("^[A-Z]{3}$", required=False, help_text="ISO 4217.")


class SupplierIn(SupplierChange):
    id = serializers.UUIDField(required=False)
    code = serializers.CharField(max_length=40)


class SupplierFilters(Filters):
    code = django_filters.CharFilter(help_text="The code.")

    class Meta:
        model = Supplier
        fields: list[str] = []


def _supplier(by: Caller, pk: Any) -> dict[str, Any] | None:
    return SupplierRow.select(suppliers(by=by).filter(pk=pk)).first()


class SuppliersView(ListView):
    rows = SupplierRow
    filters = SupplierFilters
    order = ("code", "id")

    def rows_for(self, request: Request) -> Any:
        return suppliers(by=caller_of(request))

    @describe(
        summary="List suppliers",
        tag=TAG,
        responses=page_of(SupplierRow),
        filters=SupplierFilters,
        operation_id="suppliers_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Add a supplier",
        tag=TAG,
        request=SupplierIn,
        responses=SupplierRow,
        status=201,
        request_example={"code": "harrow", "name": "Harrow Sealing"},
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, SupplierIn)

        def perform() -> Answer:
            made = register_supplier(by=caller_of(request), supplier_id=body.pop("id", None), **body)
            return created(_supplier(caller_of(request), made.pk) or {}, f"/api/v1/suppliers/{made.pk}")

        return answer_write(request, perform, key_required=True)


class SupplierView(APIView):
    @describe(summary="One supplier", tag=TAG, responses=SupplierRow, operation_id="suppliers_read")
    def get(self, request: Request, supplier: uuid.UUID) -> Response:
        return answer_one(request, _supplier(caller_of(request), supplier), "The supplier")

    @describe(
        summary="Change a supplier's name or minimum order value",
        tag=TAG,
        request=SupplierChange,
        responses=SupplierRow,
        if_match=True,
        request_example={"minimum_order_value": "250", "minimum_order_currency": "EUR"},
    )
    def patch(self, request: Request, supplier: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SupplierChange, partial=True)

        def perform() -> Answer:
            change_supplier(by=caller_of(request), supplier_id=supplier, expected_version=version, **body)
            return changed(_supplier(caller_of(request), supplier) or {})

        return answer_write(request, perform)


class SupplierTermsRow(Rows):
    id = serializers.UUIDField()
    supplier = serializers.UUIDField()
    supplier_code = serializers.CharField(source="supplier.code")
    item = serializers.UUIDField()
    item_number = serializers.CharField(source="item.number")
    item_revision = serializers.CharField(source="item.revision")
    lead_time_days = serializers.DecimalField(max_digits=7, decimal_places=2)
    lead_time_sd_days = serializers.DecimalField(max_digits=7, decimal_places=2)
    minimum = serializers.DecimalField(max_digits=12, decimal_places=3)
    multiple = serializers.DecimalField(max_digits=12, decimal_places=3)
    price = serializers.DecimalField(max_digits=14, decimal_places=4)
    currency = serializers.CharField()
    order_cost = serializers.DecimalField(max_digits=14, decimal_places=4)
    version = serializers.IntegerField()


class TermsFigures(Body):
    lead_time_days = serializers.DecimalField(max_digits=7, decimal_places=2, min_value=0)
    lead_time_sd_days = serializers.DecimalField(max_digits=7, decimal_places=2, min_value=0, required=False)
    minimum = serializers.DecimalField(max_digits=12, decimal_places=3, min_value=0, required=False)
    multiple = serializers.DecimalField(max_digits=12, decimal_places=3, min_value=0, required=False)
    price = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=0)
    currency = serializers.RegexField("^[A-Z]{3}$", help_text="ISO 4217.")
    order_cost = serializers.DecimalField(max_digits=14, decimal_places=4, min_value=0, required=False)


class SupplierTermsIn(TermsFigures):
    supplier = serializers.UUIDField()
    item = serializers.UUIDField()


class SupplierTermsChange(TermsFigures):
    pass


class SupplierTermsFilters(Filters):
    supplier = django_filters.UUIDFilter("supplier_id", help_text="The supplier's id.")
    item = django_filters.UUIDFilter("item_id", help_text="The item's id.")

    class Meta:
        model = SupplierTerms
        fields: list[str] = []


def _terms(by: Caller, pk: Any) -> dict[str, Any] | None:
    return SupplierTermsRow.select(supplier_terms(by=by).filter(pk=pk)).first()


class SupplierTermsListView(ListView):
    rows = SupplierTermsRow
    filters = SupplierTermsFilters
    order = ("supplier__code", "id")

    def rows_for(self, request: Request) -> Any:
        return supplier_terms(by=caller_of(request))

    @describe(
        summary="List terms of suppliers",
        tag=TAG,
        responses=page_of(SupplierTermsRow),
        filters=SupplierTermsFilters,
        operation_id="supplier_terms_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)

    @describe(
        summary="Agree terms for an item",
        tag=TAG,
        request=SupplierTermsIn,
        responses=SupplierTermsRow,
        status=201,
        request_example={
            "supplier": "0199a0c4-0000-7000-8000-0000000000cc",
            "item": "0199a0c4-0000-7000-8000-0000000000bb",
            "lead_time_days": "42",
            "lead_time_sd_days": "9",
            "minimum": "2",
            "multiple": "2",
            "price": "184.50",
            "currency": "EUR",
            "order_cost": "35",
        },
    )
    def post(self, request: Request) -> Response:
        body = read_body(request, SupplierTermsIn)

        def perform() -> Answer:
            made = agree_terms(
                by=caller_of(request), supplier_id=body.pop("supplier"), item_id=body.pop("item"), **body
            )
            return created(_terms(caller_of(request), made.pk) or {}, f"/api/v1/supplier-terms/{made.pk}")

        return answer_write(request, perform, key_required=True)


class SupplierTermsView(APIView):
    @describe(summary="Terms for one item", tag=TAG, responses=SupplierTermsRow, operation_id="supplier_terms_read")
    def get(self, request: Request, terms: uuid.UUID) -> Response:
        return answer_one(request, _terms(caller_of(request), terms), "The terms")

    @describe(
        summary="Change terms",
        tag=TAG,
        request=SupplierTermsChange,
        responses=SupplierTermsRow,
        if_match=True,
        request_example={"lead_time_days": "49", "price": "189", "currency": "EUR"},
    )
    def patch(self, request: Request, terms: uuid.UUID) -> Response:
        version, body = expected_version(request), read_body(request, SupplierTermsChange, partial=True)

        def perform() -> Answer:
            change_terms(by=caller_of(request), terms_id=terms, expected_version=version, **body)
            return changed(_terms(caller_of(request), terms) or {})

        return answer_write(request, perform)
