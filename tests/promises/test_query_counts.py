"""Lists make the same few statements however many rows there are, and so does one thing."""

import datetime
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from assets.models import Bin, Pump, RunningHours
from jobs.models import Job
from jobs.operations.labels import make_labels
from jobs.queries.labels import Thing
from kits.models import Count, CountLine, Order, OrderLine, StockDiscrepancy, Supplier
from tests.overhauls import make_instrument
from tests.promises.everything import make_everything
from tests.promises.test_access_matrix import CATALOGUE, MEANT, SITE
from tests.shelves import make_part, put_on_shelf

pytestmark = pytest.mark.django_db

# One statement for the token, one for the roles, then at most four of the list's own.
MOST_OF_A_LIST = 6
MOST_OF_ONE = 9
# A pump's fits are judged as they are asked for: lines, scopes, positions, tables and stock are read once each.
MOST = {
    "GET pumps/<uuid:pump>/fits": 20, "GET jobs/<uuid:job>/steps": 10, "GET jobs/<uuid:job>/steps/<int:number>": 10,
    # Stock, claims, orders, transfers, terms and lateness, and for a promise parts, other sites, their claims and how
    # long it takes from there; each read once.
    "GET sites/<uuid:site>/items/<uuid:item>/projection": 12, "GET sites/<uuid:site>/items/<uuid:item>/promise": 20,
    "GET sites/<uuid:site>/items/<uuid:item>/allocation": 12, "GET sites/<uuid:site>/waiting-jobs": 12,
    # Stock, needs, claims, transfers, terms, targets and what installed pumps need, each read once.
    "GET sites/<uuid:site>/stock-surplus": 15,
    # Claims, parts asked for, instruments and the rule of fit, each read once.
    "GET jobs/<uuid:job>/readiness": 22,
    # Pumps, hours, past overhauls, intervals, what was measured and fitted, and planned jobs, each read once.
    "GET pumps/<uuid:pump>/next-overhaul": 11, "GET sites/<uuid:site>/next-overhauls": 12,
    # A job's record is read table by table, and compared with what was signed.
    "GET jobs/<uuid:job>/record": 30, "GET record-verifications/<str:digest>": 30,
    # What stands on papers, and before the work what the steps would be.
    "GET jobs/<uuid:job>/job-sheet": 25, "GET jobs/<uuid:job>/overhaul-record": 25,
    # A pump's label answers its fits, and five more.
    "GET scanned-labels/<str:code>": 25,
}  # fmt: skip
GROWING = {
    "pumps", "jobs", "bins", "stock-balances", "stock-movements", "lots", "orders", "instruments", "parts", "suppliers",
    "labels", "counts", "stock-discrepancies", "late-orders",
}  # fmt: skip


@pytest.fixture
def world():
    return make_everything()


def statements(client, path):
    with CaptureQueriesContext(connection) as captured:
        answer = client.get(path)
    assert answer.status_code == 200, answer.content
    own = [one for one in captured.captured_queries if not one["sql"].startswith(("SAVEPOINT", "RELEASE", "UPDATE"))]
    return len(own), answer.json() if answer.headers["Content-Type"] == "application/json" else {}


def test_every_read_stays_within_its_number(world):
    client = world.cast.client("supervisor")
    client.get("/api/v1/me")
    over = {}
    for name in sorted(SITE | CATALOGUE | MEANT):
        route = name.split(" ", 1)[1]
        count, body = statements(client, world.path(f"api/v1/{route}"))
        most = MOST.get(name, MOST_OF_A_LIST if "results" in body else MOST_OF_ONE)
        if count > most:
            over[name] = count
    assert over == {}


def grow(world, numbers):
    cast, stores = world.cast, world.cast.by("stores")
    base, job = Pump.objects.get(pk=world.ids["pump"]), Job.objects.get(pk=world.ids["job"])
    for number in numbers:
        Bin.objects.create(site=cast.north, code=f"X-{number}")
        pump = Pump.objects.create(
            site=cast.north,
            tag=f"X-{number}",
            serial_number=f"X{number}",
            pump_model_id=base.pump_model_id,
            fluid_id=base.fluid_id,
            temperature_min_c=Decimal(5),
            temperature_max_c=Decimal(20),
            criticality="desirable",
            build_class_id=base.build_class_id,
        )
        RunningHours.objects.create(pump=pump, read_at=timezone.now(), hours=number)
        Job.objects.create(
            number=f"X-{number}",
            pump=pump,
            site=cast.north,
            revision_id=job.revision_id,
            kit_id=job.kit_id,
            planned_start=datetime.date(2027, 1, 1),
            planned_end=datetime.date(2027, 1, 2),
            planned_by_id=stores.id,
        )
        part = make_part(f"X-{number}")
        put_on_shelf(stores, cast.north, part, 1, lot=f"X-{number}", cured=None)
        supplier = Supplier.objects.create(code=f"x-{number}", name="X")
        order = Order.objects.create(number=f"X-{number}", site=cast.north, supplier=supplier)
        OrderLine.objects.create(
            order=order, line=1, item=part, quantity=1, expected_on=datetime.date(2026, 1, 1), price=1, currency="EUR"
        )
        sheet = Count.objects.create(number=f"X-{number}", site=cast.north, made_by_id=stores.id)
        CountLine.objects.create(
            count=sheet, line=1, bin=Bin.objects.get(site=cast.north, code="MAIN"), item=part, lot_number=f"X-{number}"
        )
        StockDiscrepancy.objects.create(
            site=cast.north, item=part, quantity=1, occurred_at=timezone.now(), reason="empty", by_id=stores.id
        )
        make_instrument(cast, f"X-{number}", "dial-indicator")
        with transaction.atomic():
            make_labels(by=stores, things=[Thing("pump", pump.pk)])


def test_lists_make_as_many_statements_for_three_rows_as_for_thirty(world):
    client = world.cast.client("supervisor")
    grow(world, range(2))
    few = {name: statements(client, f"/api/v1/{name}") for name in GROWING}
    for_few = {name: count for name, (count, _) in few.items()}
    grow(world, range(2, 30))
    many = {}
    for name in GROWING:
        count, body = statements(client, f"/api/v1/{name}")
        assert len(body["results"]) > len(few[name][1]["results"]), name
        many[name] = count
    assert many == for_few
