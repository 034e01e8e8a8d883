"""The endpoints of a table that everybody reads and the data owner keeps."""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema_view
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.api.filters import Filters
from services.api.rows import Body, Rows, read_body
from services.api.schema import describe, page_of
from services.api.versions import expected_version
from services.api.views import ListView, answer_one
from services.api.writes import Answer, answer_write, changed, created
from services.identity.callers import Caller, caller_of


@dataclass(frozen=True)
class TableDoor:
    """What the endpoints of one table need.

    ``path`` is the noun in the address, ``one`` and ``many`` its words. ``add`` takes ``by``, ``row_id`` and the body's
    fields, ``change`` takes ``by``, ``row_id``, ``expected_version`` and fields, ``remove`` the first three.
    """

    path: str
    one: str
    many: str
    tag: str
    rows: type[Rows]
    body: type[Body]
    change_body: type[Body]
    filters: type[Filters]
    order: tuple[str, ...]
    read: Callable[..., QuerySet[Any, Any]]
    add: Callable[..., Any]
    change: Callable[..., Any]
    remove: Callable[..., Any]
    example: Mapping[str, Any]
    change_example: Mapping[str, Any]
    description: str = ""

    def row(self, by: Caller, pk: Any) -> dict[str, Any] | None:
        """One row as it is answered."""
        return self.rows.select(self.read(by=by).filter(pk=pk)).first()


def table_views(door: TableDoor) -> tuple[type[APIView], type[APIView]]:
    """The view of the list and that of one row."""
    what = f"The {door.one}"
    name = door.path.replace("-", "_")

    class TableView(ListView):
        rows = door.rows
        filters = door.filters
        order = door.order

        def rows_for(self, request: Request) -> Any:
            return door.read(by=caller_of(request))

        def post(self, request: Request) -> Response:
            body = read_body(request, door.body)

            def perform() -> Answer:
                made = door.add(by=caller_of(request), row_id=body.pop("id", None), **body)
                return created(door.row(caller_of(request), made.pk) or {}, f"/api/v1/{door.path}/{made.pk}")

            return answer_write(request, perform, key_required=True)

    class TableRowView(APIView):
        def get(self, request: Request, **kwargs: uuid.UUID) -> Response:
            return answer_one(request, door.row(caller_of(request), *kwargs.values()), what)

        def patch(self, request: Request, **kwargs: uuid.UUID) -> Response:
            version, body = expected_version(request), read_body(request, door.change_body, partial=True)
            (row_id,) = kwargs.values()

            def perform() -> Answer:
                door.change(by=caller_of(request), row_id=row_id, expected_version=version, **body)
                return changed(door.row(caller_of(request), row_id) or {})

            return answer_write(request, perform)

        def delete(self, request: Request, **kwargs: uuid.UUID) -> Response:
            version = expected_version(request)
            (row_id,) = kwargs.values()

            def perform() -> Answer:
                door.remove(by=caller_of(request), row_id=row_id, expected_version=version)
                return Answer(None, 204)

            return answer_write(request, perform)

    whole = extend_schema_view(
        get=describe(
            summary=f"List {door.many}",
            tag=door.tag,
            responses=page_of(door.rows),
            filters=door.filters,
            operation_id=f"{name}_list",
            description=door.description,
        ),
        post=describe(
            summary=f"Add a {door.one}",
            tag=door.tag,
            request=door.body,
            responses=door.rows,
            status=201,
            request_example=dict(door.example),
            description=door.description,
        ),
    )
    single = extend_schema_view(
        get=describe(summary=f"One {door.one}", tag=door.tag, responses=door.rows, operation_id=f"{name}_read"),
        patch=describe(
            summary=f"Change a {door.one}",
            tag=door.tag,
            request=door.change_body,
            responses=door.rows,
            if_match=True,
            request_example=dict(door.change_example),
            description=door.description,
        ),
        delete=describe(
            summary=f"Take out a {door.one} that nothing refers to",
            tag=door.tag,
            responses=None,
            status=204,
            if_match=True,
        ),
    )
    return whole(TableView), single(TableRowView)
