"""What endpoint files are made of: lists, single things, and writes."""

from typing import Any, ClassVar

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters, apply_filters
from services.api.pagination import paginate
from services.api.refusals import NotThere
from services.api.rendering import LIST_RENDERERS, JsonRenderer
from services.api.rows import Rows, chosen_fields
from services.api.versions import etag, is_unchanged


class ListView(APIView):
    """``GET`` answers one keyset page of ``rows`` as JSON, CSV or NDJSON; subclasses say which rows."""

    rows: ClassVar[type[Rows]]
    filters: ClassVar[type[Filters] | None] = None
    order: ClassVar[tuple[str, ...]] = ("id",)

    def get_renderers(self) -> list[Any]:
        return [one() for one in (LIST_RENDERERS if self.request.method == "GET" else [JsonRenderer])]

    def rows_for(self, request: Request) -> QuerySet[Any, Any]:
        """The rows that the caller may see (a function of the app's queries)."""
        raise NotImplementedError

    def shape(self, page: list[dict[str, Any]], request: Request) -> None:
        """Add computed fields to a page in place, with a fixed number of queries."""

    def get(self, request: Request, **kwargs: Any) -> Response:
        only = chosen_fields(request, self.rows)
        queryset = apply_filters(request, self.filters, self.rows_for(request))
        page = paginate(self.rows.select(queryset, only), order=self.order, request=request)
        self.shape(page.results, request)
        headers = {"Cache-Control": "private, no-cache"}
        if page.next:
            headers["Link"] = f'<{page.next}>; rel="next"'
        return Response(page.body(), headers=headers)


def answer_one(request: Request, row: dict[str, Any] | None, what: str = "It") -> Response:
    """One thing with its ETag; 304 where the caller has that version; 404 where there is none to know of."""
    if row is None:
        raise NotThere(f"{what} is not here.", remedy="Check the id, or ask for a role at its site.")
    headers = {"Cache-Control": "private, no-cache"}
    if "version" in row:
        headers["ETag"] = etag(row["version"])
        if is_unchanged(request, row["version"]):
            return Response(None, status=304, headers=headers)
    return Response(row, headers=headers)
