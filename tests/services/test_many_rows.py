"""Many rows at once come out as Django's own way would have written them."""

import datetime
import gc
from decimal import Decimal

import pytest
from django.db import DataError, IntegrityError, transaction

from assets.models import Maker, PumpModel, Site, WearPosition
from jobs.models import Instrument
from jobs.operations.instrument_loads import load_instruments
from services.api.loading import LoadRow
from services.api.many_rows import FEW, insert_many, insert_missing, insert_rows, uncollected, update_many
from services.api.sorting_rows import SortedRows
from services.changes.models import Change
from services.changes.recording import Recorded, record_changes
from tests.world import gather_cast, make_site

pytestmark = pytest.mark.django_db

AWKWARD = "tab\there, line\nthere, \\back\\ \\N \\. 'quoted' \"twice\" {braces} \N{SNOWMAN}"
MANY = FEW + 5


def sites(count, name=AWKWARD):
    return [
        Site(
            code=f"s{n:02d}",
            name=name,
            time_zone="Europe/Oslo",
            external_ids={"file": f"{AWKWARD} {n}", "n": [n, None]},
        )
        for n in range(count)
    ]


@pytest.mark.parametrize("count", [1, MANY])
def test_new_things_are_read_as_they_were_written(count):
    made = sites(count)
    insert_many(made)
    kept = Site.objects.order_by("code")
    assert [(one.pk, one.name, one.external_ids) for one in kept] == [
        (one.pk, AWKWARD, one.external_ids) for one in made
    ]
    assert all(one.version == 1 and one.created_at for one in kept)
    assert not any(one._state.adding for one in made)


@pytest.mark.parametrize("count", [1, MANY])
def test_rows_are_written_as_things_with_their_values_would_be(count):
    made = sites(count)
    names = ("id", "version", "code", "name", "time_zone", "is_central_store", "external_ids")
    insert_rows(Site, [{name: getattr(one, name) for name in names} for one in made])
    kept = Site.objects.order_by("code")
    assert [[getattr(one, name) for name in names] for one in kept] == [
        [getattr(one, name) for name in names] for one in made
    ]
    assert all(one.created_at and one.updated_at for one in kept)


def test_a_row_that_may_not_be_is_refused_among_many():
    names = ("id", "version", "code", "name", "time_zone", "is_central_store", "external_ids")
    rows = [{name: getattr(one, name) for name in names} for one in sites(MANY, name="x" * 121)]
    with pytest.raises(DataError), transaction.atomic():
        insert_rows(Site, rows)
    assert not Site.objects.exists()


def test_the_collector_rests_while_rows_come_into_being_and_wakes_whatever_happens():
    def fail():
        with uncollected(), uncollected():
            resting.append(not gc.isenabled())
            raise ZeroDivisionError

    resting: list[bool] = []
    with pytest.raises(ZeroDivisionError):
        fail()
    assert resting == [True]
    assert gc.isenabled()


def test_nothing_is_written_of_nothing(django_assert_num_queries):
    with django_assert_num_queries(0):
        insert_many([])
        insert_rows(Site, [])
        insert_missing([])
        assert update_many([], ["name"]) == {}


def test_changed_things_tell_the_version_that_the_database_gave_them(django_assert_num_queries):
    made = sites(MANY)
    insert_many(made)
    for one in made[1:]:
        one.name, one.external_ids = f"{AWKWARD}!", {"other": AWKWARD}
    with django_assert_num_queries(1):
        versions = update_many(made, ["name", "external_ids"])
    assert versions == {made[0].pk: 1, **{one.pk: 2 for one in made[1:]}}
    kept = Site.objects.get(pk=made[1].pk)
    assert (kept.name, kept.external_ids, kept.code) == (f"{AWKWARD}!", {"other": AWKWARD}, made[1].code)


def test_numbers_foreign_keys_and_nothing_are_written_as_they_are():
    maker = Maker.objects.create(code="norrvik", name="Norrvik Pumps")
    model = PumpModel(
        code="NB", maker=maker, series="NB", designation="40", configuration="in-line",
        shaft_diameter_at_seal_mm=Decimal("43.125"), rated_speed_rpm=2900, rated_power_kw=Decimal(15),
    )  # fmt: skip
    insert_missing([model])
    positions = [
        WearPosition(pump_model=model, role_id="casing-o-ring", quantity=n + 1, part_number=f"OR-{n}")
        for n in range(MANY)
    ]
    insert_many(positions)
    for one in positions:
        one.quantity, one.specification, one.role_id = Decimal("0.5"), {"category": "o-ring"}, "impeller-o-ring"
    update_many(positions[1:], ["quantity", "specification", "role"])
    kept = [
        (one.quantity, one.specification, one.role_id)
        for one in WearPosition.objects.order_by("part_number").filter(part_number__in=["OR-0", "OR-1"])
    ]
    assert kept == [
        (Decimal(1), None, "casing-o-ring"),
        (Decimal("0.5"), {"category": "o-ring"}, "impeller-o-ring"),
    ]
    assert PumpModel.objects.get().shaft_diameter_at_seal_mm == Decimal("43.125")


def test_a_text_that_does_not_fit_is_refused_and_never_cut():
    insert_many(made := sites(MANY))
    made[3].name = "x" * 121
    for write in (
        lambda: update_many(made, ["name"]),
        lambda: insert_many(sites(MANY, name="x" * 121)),
        lambda: insert_missing(sites(MANY, name="x" * 121)),
    ):
        with pytest.raises(DataError), transaction.atomic():
            write()
    assert set(Site.objects.values_list("name", flat=True)) == {AWKWARD}


def test_what_is_there_already_is_refused_or_passed_over_as_asked():
    insert_many(sites(MANY))
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_many(sites(MANY + 1))
    insert_missing(sites(MANY + 1))
    assert Site.objects.count() == MANY + 1


def test_among_finds_what_in_finds(django_assert_num_queries):
    insert_many(sites(MANY))
    wanted = ["s01", "s03", "none", AWKWARD]
    assert list(Site.objects.filter(code__among=wanted)) == list(Site.objects.filter(code__in=wanted))
    assert not Site.objects.filter(code__among=[]).exists()


def test_many_changes_are_told_like_one():
    site = make_site("north")
    with transaction.atomic():
        for count in (1, MANY):
            record_changes(
                [
                    Recorded("site.changed", "site", site.pk, 7, site.pk, {"name": AWKWARD, "cost": Decimal("1.50")})
                    for _ in range(count)
                ],
                by=None,
            )
    shape = ("kind", "noun", "noun_id", "noun_version", "site_id", "body", "by_id", "request_id", "transaction")
    rows = [
        tuple(str(row[name]) for name in shape) for row in Change.objects.filter(kind="site.changed").values(*shape)
    ]
    assert len(rows) == MANY + 1
    assert len(set(rows)) == 1
    assert all(Change.objects.values_list("at", flat=True))


class TestSortedRows:
    def take(self, rows, key, name):
        figures = {"name": name}
        return rows.take(LoadRow(2, {}), key, key, figures, lambda: Maker(code=key, **figures)).outcome

    def test_a_key_is_new_once_and_written_once(self):
        rows: SortedRows[Maker] = SortedRows({})
        found = [self.take(rows, "a", "A"), self.take(rows, "a", "A"), self.take(rows, "a", "B")]
        assert found == ["created", "unchanged", "changed"]
        assert ([one.name for one in rows.fresh], rows.changed) == (["B"], [])

    def test_what_is_known_is_changed_once_however_often_it_comes(self):
        known = Maker(code="a", name="A")
        rows = SortedRows({"a": known})
        found = [self.take(rows, "a", "A"), self.take(rows, "a", "B"), self.take(rows, "a", "C")]
        assert found == ["unchanged", "changed", "changed"]
        assert (rows.fresh, rows.changed, known.name) == ([], [known], "C")


def test_an_instrument_twice_in_a_file_is_one_instrument_with_the_later_figures():
    values = {
        "number": "DI-7", "site": "north", "type": "dial-indicator", "range_from": Decimal(0), "range_to": Decimal(10),
        "unit": "mm", "resolution": Decimal("0.01"), "expanded_uncertainty": Decimal("0.004"),
        "calibrated_on": datetime.date(2026, 1, 5), "calibration_due": datetime.date(2027, 1, 5),
    }  # fmt: skip
    later = {**values, "calibration_due": datetime.date(2028, 1, 5)}
    rows = [LoadRow(number, one) for number, one in enumerate([values, later, later], 2)]
    outcomes = load_instruments(by=gather_cast().by("supervisor"), rows=rows)
    assert [one.outcome for one in outcomes] == ["created", "changed", "unchanged"], outcomes
    assert Instrument.objects.get().calibration_due == datetime.date(2028, 1, 5)
