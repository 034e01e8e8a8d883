"""Kits put together from loose parts and taken apart again."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Balance, Lot, Movement, Supersession
from kits.queries.movements import ledger_differences
from tests.overhauls import Hand
from tests.shelves import fill_catalogue, make_kit, make_part, put_on_shelf
from tests.world import make_site

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
SPRING, SUMMER = datetime.date(2026, 3, 31), datetime.date(2026, 6, 30)


@pytest.fixture
def shelves(cast):
    found = fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, found.o_ring, 2, lot="O-OLD", cured=SPRING)
    put_on_shelf(cast.by("stores"), cast.north, found.o_ring, 3, lot="O-NEW", cured=SUMMER)
    put_on_shelf(cast.by("stores"), cast.north, found.bearing, 4, lot="B-1", cured=None)
    return found


def on_hand():
    rows = Balance.objects.filter(on_hand__gt=0).values_list("item__number", "lot__number", "on_hand")
    return {(item, lot): int(quantity) for item, lot, quantity in rows}


def last_day(lot):
    found = Lot.objects.get(number=lot).expires_on
    assert found is not None
    return found


def build(stores, cast, shelves, quantity=2, lot="K-1", status=201, **more):
    body = {"site": str(cast.north.pk), "kit": str(shelves.kit.pk), "quantity": quantity, "lot": lot}
    return stores.post("kit-builds", body | {"reason": "a test"} | more, status=status)


def take_apart(stores, cast, shelves, quantity=1, lot="K-1", status=201, **more):
    body = {"site": str(cast.north.pk), "kit": str(shelves.kit.pk), "quantity": quantity, "lot": lot}
    return stores.post("kit-breaks", body | {"reason": "a test"} | more, status=status)


def test_kits_are_built_from_the_parts_that_expire_first_and_are_dated_by_them(cast, shelves, stores):
    done = build(stores, cast, shelves, 3)
    assert on_hand() == {("OR-50", "O-NEW"): 2, ("BRG-40", "B-1"): 1, ("K-100", "K-1"): 3}
    assert (done["cure_date"], done["expires_on"]) == (SPRING.isoformat(), last_day("O-OLD").isoformat())
    assert {one["kind"] for one in done["movements"]} == {"kit-build"}
    assert ledger_differences() == []


def test_where_parts_are_too_few_nothing_happens_and_the_lines_are_named(cast, shelves, stores):
    before = on_hand()
    refused = build(stores, cast, shelves, 5, status=409)
    assert (refused["code"], refused["buildable"]) == ("not-buildable", 4)
    assert [one["number"] for one in refused["held_up_by"]] == ["BRG-40"]
    assert refused["errors"][0]["pointer"] == "#/quantity"
    assert on_hand() == before
    assert not Lot.objects.filter(number="K-1").exists()


def test_parts_out_of_date_or_reserved_or_quarantined_are_not_built_in(cast, shelves, stores):
    Lot.objects.filter(number="O-OLD").update(expires_on=TODAY - datetime.timedelta(days=1))
    Balance.objects.filter(lot__number="O-NEW").update(reserved=1)
    assert build(stores, cast, shelves, 4, status=409)["buildable"] == 2
    Balance.objects.filter(lot__number="O-NEW").update(reserved=0, condition="quarantined")
    assert build(stores, cast, shelves, 4, status=409)["buildable"] == 0


def test_a_newer_part_stands_in_for_the_one_on_the_line(cast, shelves, stores):
    newer = make_part("OR-50-N", category="o-ring", group="C")
    Supersession.objects.create(old_id=shelves.o_ring.pk, new_id=newer.pk, from_date=TODAY)
    put_on_shelf(cast.by("stores"), cast.north, newer, 1, lot="N-1", cured=SUMMER)
    Balance.objects.filter(lot__number="O-NEW").update(reserved=3)
    build(stores, cast, shelves, 3)
    assert Movement.objects.get(lot__number="N-1", kind="kit-build").quantity == -1


def test_an_optional_line_that_is_not_there_is_left_out_and_said(cast, shelves, stores):
    rows = [("casing-o-ring", shelves.o_ring), ("bearing-de", shelves.bearing), ("shim", make_part("SHIM-1"))]
    shelves.kit = make_kit("K-200", rows, optional=(3,))
    assert build(stores, cast, shelves)["left_out"] == [3]


def test_a_lot_number_names_kits_built_together_once(cast, shelves, stores):
    build(stores, cast, shelves, 1)
    refused = build(stores, cast, shelves, 1, status=422)
    assert (refused["code"], refused["errors"][0]["pointer"]) == ("lots-differ", "#/lot")


def test_only_whole_kits_are_built(cast, shelves, stores):
    assert build(stores, cast, shelves, "1.5", status=422)["errors"][0]["pointer"] == "#/quantity"
    assert build(stores, cast, shelves, 0, status=422)["errors"][0]["pointer"] == "#/quantity"


def test_reversing_one_side_of_a_build_reverses_all_of_it(cast, shelves, stores):
    before = on_hand()
    done = build(stores, cast, shelves, 3)
    stores.post(f"stock-movements/{done['movements'][0]['id']}/reverse", {"reason": "wrong kit"}, status=201)
    assert on_hand() == before
    assert ledger_differences() == []


def test_a_kit_taken_apart_gives_its_parts_back_with_their_own_lots(cast, shelves, stores):
    before = on_hand()
    build(stores, cast, shelves, 2)
    take_apart(stores, cast, shelves, 2)
    assert on_hand() == before
    assert ledger_differences() == []


def test_one_of_several_kits_is_taken_apart_where_its_lots_are_known(cast, shelves, stores):
    build(stores, cast, shelves, 2)
    take_apart(stores, cast, shelves, 1)
    assert on_hand()["OR-50", "O-OLD"] == 1
    assert on_hand()["K-100", "K-1"] == 1


def test_where_lots_were_mixed_the_packs_must_be_read(cast, shelves, stores):
    build(stores, cast, shelves, 3)
    refused = take_apart(stores, cast, shelves, 1, status=422)
    assert "OR-50 O-NEW, OR-50 O-OLD" in refused["detail"]
    assert refused["errors"][0]["pointer"] == "#/parts"
    parts = [
        {"part": str(shelves.o_ring.pk), "quantity": "1", "lot": "O-NEW"},
        {"part": str(shelves.bearing.pk), "quantity": "1", "lot": "B-1"},
    ]
    take_apart(stores, cast, shelves, 1, parts=parts)
    assert on_hand()["OR-50", "O-NEW"] == 3


def test_a_bought_kit_gives_parts_that_age_its_own_cure_date(cast, shelves, stores):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="K-9", cured=SPRING)
    take_apart(stores, cast, shelves, 1, lot="K-9")
    ring, bearing = Lot.objects.filter(number="K-9").exclude(item=shelves.kit).order_by("-item__number")
    assert (ring.cure_date, ring.expires_on) == (SPRING, last_day("O-OLD"))
    assert (bearing.cure_date, bearing.expires_on) == (None, None)


def test_what_is_missing_or_damaged_is_left_out(cast, shelves, stores):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="K-9", cured=SPRING)
    take_apart(
        stores, cast, shelves, 1, lot="K-9", parts=[{"part": str(shelves.o_ring.pk), "quantity": "1", "lot": "K-9"}]
    )
    assert ("OR-50", "K-9") in on_hand()
    assert ("BRG-40", "K-9") not in on_hand()


def test_no_more_comes_out_than_went_in_and_nothing_strange(cast, shelves, stores):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="K-9", cured=SPRING)
    ring = {"part": str(shelves.o_ring.pk), "quantity": "2", "lot": "K-9"}
    refused = take_apart(stores, cast, shelves, 1, lot="K-9", parts=[ring], status=422)
    assert refused["errors"][0]["pointer"] == "#/parts/0/quantity"
    strange = {"part": str(make_part("SHIM-1").pk), "quantity": "1", "lot": "K-9"}
    refused = take_apart(stores, cast, shelves, 1, lot="K-9", parts=[strange], status=422)
    assert refused["errors"][0]["pointer"] == "#/parts/0/part"


def test_a_reserved_kit_is_never_taken_apart(cast, shelves, stores):
    build(stores, cast, shelves, 2)
    Balance.objects.filter(lot__number="K-1").update(reserved=1)
    assert take_apart(stores, cast, shelves, 2, status=409)["code"] == "insufficient-stock"


def test_an_unknown_lot_is_refused(cast, shelves, stores):
    assert take_apart(stores, cast, shelves, 1, lot="K-?", status=422)["errors"][0]["pointer"] == "#/lot"


def test_how_many_could_be_built_is_told_for_ones_own_sites(cast, shelves, stores):
    answer = stores.get(f"kits/{shelves.kit.pk}/buildable")
    (here,) = answer["sites"]
    assert (here["site_code"], here["buildable"]) == (cast.north.code, 4)
    assert [one["number"] for one in here["held_up_by"]] == ["BRG-40"]
    assert Decimal(here["held_up_by"][0]["free"]) == 4
    assert "BRG-40 holds it up" in here["words"]
    (there,) = Hand(cast.client("stranger")).get(f"kits/{shelves.kit.pk}/buildable")["sites"]
    assert (there["site_code"], there["buildable"]) == (cast.south.code, 0)
    later = (last_day("O-OLD") + datetime.timedelta(days=1)).isoformat()
    assert stores.get(f"kits/{shelves.kit.pk}/buildable?on={later}&site={cast.north.pk}")["sites"][0]["buildable"] == 3


def test_asking_costs_the_same_for_many_sites(cast, shelves, stores, django_assert_num_queries):
    chief = Hand(cast.client("chief"))
    chief.get(f"kits/{shelves.kit.pk}/buildable")
    for number in range(5):
        site = make_site(f"more-{number}")
        put_on_shelf(cast.by("chief"), site, shelves.bearing, 4, lot="B-1", cured=None)
    with django_assert_num_queries(7):
        found = chief.get(f"kits/{shelves.kit.pk}/buildable")["sites"]
    assert len(found) == 7


def test_parts_that_were_built_in_are_not_there_for_the_next(cast, shelves, stores):
    build(stores, cast, shelves, 4, lot="K-1")
    refused = build(stores, cast, shelves, 1, lot="K-2", status=409)
    assert (refused["code"], refused["buildable"]) == ("not-buildable", 0)
