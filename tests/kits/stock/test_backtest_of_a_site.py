"""A site's own history replayed against the policies: what it served, and what is said where there is too little."""

import datetime
import json
import uuid
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Movement, Reservation
from kits.operations.movements import Entry, post_movements
from kits.queries.backtest_history import site_demand
from tests.shelves import fill_catalogue, make_part, put_on_shelf

pytestmark = pytest.mark.django_db
DAY = datetime.timedelta(days=1)
MONTHS = 30


def month(back):
    """The tenth of so many months ago, in the morning."""
    first = timezone.now().date().replace(day=1)
    place = first.year * 12 + first.month - 1 - back
    return datetime.datetime(place // 12, place % 12 + 1, 10, 9, tzinfo=datetime.UTC)


def take(cast, item, lot, quantity, when, job=None, kind="issue"):
    entry = Entry(kind, cast.north.pk, item.pk, lot.pk, -Decimal(quantity), when, reason="used", job_id=job)
    with transaction.atomic():
        post_movements(by=cast.by("stores"), entries=[entry])


def keep(cast, item, lot, *, since, quantity=500):
    return put_on_shelf(cast.by("stores"), cast.north, item, quantity, lot=lot, cured=None, occurred_at=month(since))


@pytest.fixture
def shelves(cast):
    """A kit used once or twice in most months, a bearing that came in half-way, a seal that came last month."""
    found = fill_catalogue()
    kit = put_on_shelf(cast.by("stores"), cast.north, found.kit, 500, lot="K-1", occurred_at=month(MONTHS + 1))
    bearing = keep(cast, found.bearing, "B-1", since=14)
    keep(cast, make_part("SEAL-1"), "S-1", since=2)
    for back in range(1, MONTHS + 1):
        if back % 3:
            take(cast, found.kit, kit, 1 + back % 2, month(back))
        if back < 14 and back % 2:
            take(cast, found.bearing, bearing, 1, month(back))
    return found


def replayed(cast, capsys, *more):
    call_command("backtest", "--site", cast.north.code, "--json", *more)
    return json.loads(capsys.readouterr().out)


def test_a_site_is_replayed_from_its_ledger_and_says_what_it_left_out(cast, shelves, capsys, tmp_path):
    file = tmp_path / "served.svg"
    found = replayed(cast, capsys, "--from-period", "19", "--chart", str(file))
    assert (found["site"], found["series"], found["months"]) == (cast.north.code, 2, MONTHS)
    assert found["replayed_from"] == month(MONTHS - 18).date().replace(day=1).isoformat()
    assert found["left_out"] == {"new": 1, "in_parts": 0}
    assert set(found["policies"]) == {"default", "fixed_min_max", "last_period"}
    assert found["policies"]["default"]["fill_rate"] > 0.8
    assert cast.north.code in file.read_text()


def test_the_sentences_say_what_was_replayed(cast, shelves, capsys):
    call_command("backtest", "--site", cast.north.code.upper(), "--from-period", "19")
    said = capsys.readouterr().out
    assert f"2 items of {cast.north.code}, {MONTHS} whole months" in said
    assert "Left out, since they came later than that: 1." in said
    assert "default: fill rate" in said


def test_months_before_an_item_was_kept_are_absent(cast, shelves):
    table = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)
    bearing = table.items.index(shelves.bearing.pk)
    assert table.first[bearing] == MONTHS - 13
    assert table.demand[:, bearing].sum() == 7


def test_what_a_job_claimed_in_time_is_no_unplanned_need(cast, shelves):
    job = uuid.uuid4()
    when = month(4)
    made = Reservation.objects.create(
        job_id=job, job_number="J-1", site=cast.north, item=shelves.kit, quantity=9, need_date=when.date(),
        by_id=cast.by("stores").id, state="issued", issued=9,
    )  # fmt: skip
    Reservation.objects.filter(pk=made.pk).update(created_at=when - 40 * DAY)
    lot = Balance.objects.get(item=shelves.kit).lot
    before = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)
    take(cast, shelves.kit, lot, 9, when, job=job)
    early = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)
    late = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=61)
    assert (early.demand == before.demand).all()
    assert late.demand.sum() == before.demand.sum() + 9


def test_what_is_built_into_kits_is_needed_of_its_parts_and_a_reversal_undoes_its_own_month(cast, shelves):
    lot = Balance.objects.get(item=shelves.bearing).lot
    before = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)
    take(cast, shelves.bearing, lot, 3, month(4), kind="kit-build")
    built = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)
    place = built.items.index(shelves.bearing.pk)
    assert (built.demand - before.demand)[:, place].tolist() == [0] * (MONTHS - 4) + [3, 0, 0, 0]
    take(cast, shelves.bearing, lot, 2, month(5))
    wrong = Movement.objects.filter(item=shelves.bearing, quantity=-2).get()
    back = Entry(
        "issue", cast.north.pk, shelves.bearing.pk, lot.pk, Decimal(2), month(2), reason="wrong", reverses_id=wrong.pk
    )
    with transaction.atomic():
        post_movements(by=cast.by("stores"), entries=[back])
    after = site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)
    assert (after.demand == built.demand).all()


def test_the_history_takes_four_statements_however_much_there_is(cast, shelves, django_assert_num_queries):
    with django_assert_num_queries(4):
        site_demand(cast.north.pk, as_of=timezone.now().date(), from_period=19, horizon_days=31)


def test_fewer_than_five_units_are_no_evidence(cast, capsys, tmp_path):
    """Common practice, no source."""
    part = make_part("GASKET-1")
    lot = keep(cast, part, "G-1", since=20)
    for back in (3, 4, 5, 6):
        take(cast, part, lot, 1, month(back))
    call_command("backtest", "--site", cast.north.code, "--from-period", "9")
    said = capsys.readouterr().out
    assert "no evidence of a fill rate" in said
    assert "multiplied" not in said
    with pytest.raises(CommandError, match="no fill rate to draw"):
        call_command("backtest", "--site", cast.north.code, "--from-period", "9", "--chart", str(tmp_path / "x.svg"))


def test_too_little_to_replay_is_said_with_what_there_is(cast, shelves):
    for code, more, said in (
        (cast.north.code, ["--from-period", "31"], "holds 30 whole months; --from-period: give one from 2 to 30"),
        (cast.south.code, [], "holds 0 whole months"),
        ("nowhere", [], "there is no site nowhere"),
    ):
        with pytest.raises(CommandError, match=said):
            call_command("backtest", "--site", code, *more)
    assert Movement.objects.exists()
