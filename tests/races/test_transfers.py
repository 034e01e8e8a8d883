"""Two transfers of the last kit leave at once, over real connections."""

import uuid
from decimal import Decimal

import pytest

from kits.models import Balance, Movement, Transfer, TransitTime
from kits.operations.transfers import Wanted, approve_transfer, send_transfer
from kits.queries.movements import ledger_differences
from tests.races.test_last_kits import all_at_once
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast, make_site

SENDERS = 8


@pytest.mark.django_db(transaction=True)
def test_of_several_transfers_of_the_last_kit_exactly_one_is_sent():
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stranger"), cast.south, shelves.kit, 1)
    agreed: list[tuple[uuid.UUID, int]] = []
    for number in range(SENDERS):
        site = make_site(f"mill-{number}")
        TransitTime.objects.create(from_site=cast.south, to_site=site, days=2, cost=40, currency="EUR")
        made = approve_transfer(
            by=cast.by("chief"),
            from_site=cast.south.pk,
            to_site=site.pk,
            lines=[Wanted(shelves.kit.pk, Decimal(1))],
            override_reason="a race",
        )
        agreed.append((made.pk, made.version))

    def send(_, one):
        send_transfer(by=cast.by("stranger"), transfer_id=one[0], expected_version=one[1])

    outcomes = all_at_once(cast, agreed, send)
    assert sorted(outcomes) == ["held"] + ["refused"] * (SENDERS - 1)
    assert Transfer.objects.filter(state="sent").count() == 1
    assert Movement.objects.filter(kind="transfer-out").count() == 1
    assert Balance.objects.get().on_hand == 0
    assert ledger_differences() == []
