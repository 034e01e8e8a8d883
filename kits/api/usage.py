"""The data owner's lists: where a part is used, what is stranded, whom nothing serves, what is contradicted."""

from decimal import Decimal
from typing import Any

import django_filters
from django.utils import timezone
from drf_spectacular.utils import inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from assets.calculations.part_numbers import normalise_number
from kits.models import Coverage, Item, KitLine
from kits.queries import usage
from services.api.filters import Filters, apply_filters
from services.api.pagination import paginate
from services.api.rows import Rows, chosen_fields
from services.api.schema import describe, page_of
from services.api.views import ListView
from services.identity.callers import caller_of

TAG = "Catalogue"


class ShapedListView(ListView):
    """A list of which fields are computed from others: all are read, and those not asked for left out at the end."""

    def get(self, request: Request, **kwargs: Any) -> Response:
        only = chosen_fields(request, self.rows)
        found = apply_filters(request, self.filters, self.rows_for(request))
        page = paginate(self.rows.select(found), order=self.order, request=request)
        self.shape(page.results, request)
        if only is not None:
            page.results = [{name: one[name] for name in only} for one in page.results]
        headers = {"Cache-Control": "private, no-cache"}
        if page.next:
            headers["Link"] = f'<{page.next}>; rel="next"'
        return Response(page.body(), headers=headers)


class FitListView(ShapedListView):
    """A list that rests on stored fits: the page says ``pending`` while some are still to be computed anew. In CSV and
    NDJSON, which hold rows only, the header Fits-Pending says it."""

    def get(self, request: Request, **kwargs: Any) -> Response:
        answer = super().get(request, **kwargs)
        answer.data["pending"] = usage.fits_pending()
        answer.headers["Fits-Pending"] = "yes" if answer.data["pending"] else "no"
        return answer


def fit_page_of(rows: type[Rows]) -> Any:
    """The page envelope of a list that rests on stored fits."""
    return inline_serializer(
        f"{rows.__name__.removesuffix('Row')}Page",
        {
            "results": rows(many=True),
            "next": serializers.CharField(allow_null=True),
            "previous": serializers.CharField(allow_null=True),
            "count": serializers.IntegerField(required=False),
            "pending": serializers.BooleanField(help_text="Some fits are still to be computed anew."),
        },
    )


class StrandedRow(Rows):
    computed = ("on_hand", "value")
    id = serializers.UUIDField()
    number = serializers.CharField()
    revision = serializers.CharField(help_text="Of a kit; empty for a part.")
    name = serializers.CharField()
    cost = serializers.DecimalField(max_digits=14, decimal_places=4, allow_null=True)
    currency = serializers.CharField()
    on_hand = serializers.DecimalField(max_digits=12, decimal_places=3, help_text="Over your sites.")
    value = serializers.DecimalField(
        max_digits=18, decimal_places=4, allow_null=True, help_text="At cost, over your sites; none where it has none."
    )


class StrandedPartRow(StrandedRow):
    category = serializers.CharField(source="part.category")
    is_active = serializers.BooleanField()


class StrandedKitRow(StrandedRow):
    scope = serializers.CharField(source="kit.scope.code")
    pending = serializers.BooleanField(help_text="Its fits are still to be computed anew.")


class StrandedFilters(Filters):
    q = django_filters.CharFilter("name", "icontains", help_text="Part of the name.")
    number = django_filters.CharFilter("number", "iexact", help_text="The number.")

    class Meta:
        model = Item
        fields: list[str] = []


class StrandedPartFilters(StrandedFilters):
    category = django_filters.CharFilter("part__category", help_text="The category.")
    is_active = django_filters.BooleanFilter(help_text="Only those still in use, or only the others.")


class StrandedKitFilters(StrandedFilters):
    scope = django_filters.CharFilter("kit__scope__code", help_text="A scope's code.")


class StrandedView(FitListView):
    order = ("number", "id")

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        stock = usage.stock_of(caller_of(request), [one["id"] for one in page])
        for one in page:
            one["on_hand"] = stock.get(one["id"], Decimal(0))
            one["value"] = None if one["cost"] is None else one["cost"] * one["on_hand"]


class StrandedPartsView(StrandedView):
    rows = StrandedPartRow
    filters = StrandedPartFilters

    def rows_for(self, request: Request) -> Any:
        return usage.stranded_parts()

    @describe(
        summary="Parts that no installed pump needs any more",
        tag=TAG,
        responses=fit_page_of(StrandedPartRow),
        filters=StrandedPartFilters,
        operation_id="stranded_parts_list",
        description=(
            "In no released kit that fits an installed pump, and asked for by no wear position of a model with "
            "installed pumps, neither by number nor over supersession. Stock and value are those of your sites."
        ),
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class StrandedKitsView(StrandedView):
    rows = StrandedKitRow
    filters = StrandedKitFilters

    def rows_for(self, request: Request) -> Any:
        return usage.stranded_kits()

    @describe(
        summary="Released kits that fit no installed pump",
        tag=TAG,
        responses=fit_page_of(StrandedKitRow),
        filters=StrandedKitFilters,
        operation_id="stranded_kits_list",
        description="Stock and value are those of your sites.",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class UnservedPumpRow(Rows):
    id = serializers.UUIDField()
    tag = serializers.CharField()
    site = serializers.UUIDField()
    site_code = serializers.CharField(source="site.code")
    pump_model = serializers.UUIDField()
    pump_model_code = serializers.CharField(source="pump_model.code")
    serial_number = serializers.CharField()
    criticality = serializers.CharField()
    state = serializers.CharField()
    best_verdict = serializers.CharField(help_text="The best there is: incomplete, unsuitable or no-fit.")
    pending = serializers.BooleanField(help_text="Its fits are still to be computed anew.")


class UnservedPumpFilters(Filters):
    site = django_filters.UUIDFilter("site_id", help_text="The site's id.")
    pump_model = django_filters.UUIDFilter("pump_model_id", help_text="The model's id.")
    criticality = django_filters.CharFilter(help_text="vital, essential or desirable.")
    best_verdict = django_filters.CharFilter(help_text="incomplete, unsuitable or no-fit.")
    scope = django_filters.CharFilter(
        method="within_scope", help_text="Only kits of this scope count, such as full-overhaul."
    )

    def within_scope(self, rows: Any, name: str, value: str) -> Any:
        """Done where the rows are chosen, since it is the kits that it narrows."""
        return rows


class UnservedPumpsView(FitListView):
    rows = UnservedPumpRow
    filters = UnservedPumpFilters
    order = ("tag", "id")

    def rows_for(self, request: Request) -> Any:
        return usage.unserved_pumps(by=caller_of(request), scope=request.query_params.get("scope"))

    @describe(
        summary="Installed pumps that no kit fits",
        tag="Fit",
        responses=fit_page_of(UnservedPumpRow),
        filters=UnservedPumpFilters,
        operation_id="unserved_pumps_list",
        description="No released kit with the verdict fits or fits-with-notes, of any scope or of the one named.",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class ContradictedCoverageRow(Rows):
    computed = ("pump_count", "no_fit", "incomplete", "unsuitable")
    id = serializers.UUIDField()
    kit = serializers.UUIDField()
    kit_number = serializers.CharField(source="kit.item.number")
    kit_revision = serializers.CharField(source="kit.item.revision")
    scope = serializers.CharField(source="kit.scope.code")
    pump_model = serializers.UUIDField()
    pump_model_code = serializers.CharField(source="pump_model.code")
    serial_from = serializers.CharField()
    serial_to = serializers.CharField()
    variant = serializers.DictField(child=serializers.CharField())
    pump_count = serializers.IntegerField(help_text="Installed pumps at your sites that the maker's word covers.")
    no_fit = serializers.IntegerField(help_text="Of these, those of which no position matches.")
    incomplete = serializers.IntegerField(help_text="Those for which something is missing or short.")
    unsuitable = serializers.IntegerField(help_text="Those in which a material would fail.")


class ContradictedCoverageFilters(Filters):
    kit = django_filters.UUIDFilter("kit_id", help_text="The kit's id.")
    pump_model = django_filters.UUIDFilter("pump_model_id", help_text="The model's id.")
    scope = django_filters.CharFilter("kit__scope__code", help_text="A scope's code.")

    class Meta:
        model = Coverage
        fields: list[str] = []


class ContradictedCoverageView(FitListView):
    rows = ContradictedCoverageRow
    filters = ContradictedCoverageFilters
    order = ("id",)

    def rows_for(self, request: Request) -> Any:
        return usage.doubtful_coverage(by=caller_of(request), on=timezone.now().date())

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        counts = usage.contradictions(caller_of(request), page, timezone.now().date())
        for one in page:
            one.update(counts[one["id"]])
        page[:] = [one for one in page if one["no_fit"] + one["incomplete"] + one["unsuitable"]]

    @describe(
        summary="What makers say and the computed fit contradicts",
        tag="Fit",
        responses=fit_page_of(ContradictedCoverageRow),
        filters=ContradictedCoverageFilters,
        operation_id="contradicted_coverage_list",
        description=(
            "Declarations of released kits that hold today, with the installed pumps of your sites that they cover and "
            "the kit does not serve. Why is answered by GET /pumps/{id}/fits. A page may hold fewer rows than asked "
            "for: follow next."
        ),
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class PumpsAtSiteShape(serializers.Serializer[Any]):
    site = serializers.UUIDField()
    site_code = serializers.CharField()
    count = serializers.IntegerField()


class WhereUsedRow(Rows):
    computed = ("pumps",)
    id = serializers.UUIDField(help_text="The kit's line.")
    kit = serializers.UUIDField()
    kit_number = serializers.CharField(source="kit.item.number")
    kit_revision = serializers.CharField(source="kit.item.revision")
    kit_name = serializers.CharField(source="kit.item.name")
    scope = serializers.CharField(source="kit.scope.code")
    line = serializers.IntegerField()
    role = serializers.CharField(source="role_id")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    optional = serializers.BooleanField()
    pumps = PumpsAtSiteShape(many=True, help_text="Installed pumps at your sites for which a fit of the kit is stored.")


class WhereUsedFilters(Filters):
    scope = django_filters.CharFilter("kit__scope__code", help_text="A scope's code.")

    class Meta:
        model = KitLine
        fields: list[str] = []


class WhereUsedView(FitListView):
    rows = WhereUsedRow
    filters = WhereUsedFilters
    order = ("kit__item__number", "kit__item__revision", "line", "id")

    def rows_for(self, request: Request) -> Any:
        return usage.lines_with_part(self.kwargs["part"])

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        found = usage.pumps_of_kits(caller_of(request), {one["kit"] for one in page})
        for one in page:
            one["pumps"] = found.get(one["kit"], [])

    @describe(
        summary="Released kits that hold a part, and for how many installed pumps",
        tag=TAG,
        responses=fit_page_of(WhereUsedRow),
        filters=WhereUsedFilters,
        operation_id="part_where_used_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)


class AskedByRow(Rows):
    computed = ("path", "pumps")
    id = serializers.UUIDField(help_text="The wear position.")
    pump_model = serializers.UUIDField()
    pump_model_code = serializers.CharField(source="pump_model.code")
    role = serializers.CharField(source="role_id")
    quantity = serializers.DecimalField(max_digits=9, decimal_places=3)
    mandatory = serializers.BooleanField()
    serial_from = serializers.CharField()
    serial_to = serializers.CharField()
    variant = serializers.DictField(child=serializers.CharField())
    part_number = serializers.CharField(help_text="As the position asks for it.")
    path = serializers.ListField(
        child=serializers.CharField(), help_text="From what is asked for to this part; one number where it is the same."
    )
    pumps = PumpsAtSiteShape(many=True, help_text="Installed pumps at your sites to which the position applies.")


class AskedByFilters(Filters):
    role = django_filters.CharFilter("role_id", help_text="The position's role.")
    pump_model = django_filters.UUIDFilter("pump_model_id", help_text="The model's id.")


class AskedByView(ShapedListView):
    rows = AskedByRow
    filters = AskedByFilters
    order = ("pump_model__code", "role_id", "id")

    def rows_for(self, request: Request) -> Any:
        self.paths = usage.paths_to_part(self.kwargs["part"], timezone.now().date())
        return usage.positions_asking(self.paths)

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        found = usage.pumps_of_positions(caller_of(request), page)
        for one in page:
            one["path"] = list(self.paths[normalise_number(one["part_number"])])
            one["pumps"] = found[one["id"]]

    @describe(
        summary="Wear positions that ask for a part, by its number or over supersession today",
        tag=TAG,
        responses=page_of(AskedByRow),
        filters=AskedByFilters,
        operation_id="part_asked_by_list",
    )
    def get(self, request: Request, **kwargs: Any) -> Response:
        return super().get(request, **kwargs)
