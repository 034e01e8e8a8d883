"""Two transfers of the last kit leave at once, over real connections."""

import uuid
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Movement, Reservation, Transfer, TransitTime
from kits.operations import reservations
from kits.operations.transfer_receipts import receive_transfer
from kits.operations.transfers import Wanted, approve_transfer, send_transfer
from kits.queries.movements import ledger_differences
from kits.queries.transfers import transfer_differences
from kits.refusals import InsufficientStock
from services.api.refusals import VersionChanged
from tests.races.test_last_kits import all_at_once
from tests.shelves import fill_catalogue, put_on_shelf, some_job
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


@pytest.mark.django_db(transaction=True)
def test_a_job_and_transfers_that_reach_for_the_last_kit_at_once_never_both_get_it():
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stranger"), cast.south, shelves.kit, 1)
    TransitTime.objects.create(from_site=cast.south, to_site=cast.north, days=2, cost=40, currency="EUR")
    waiting = []
    for _ in range(SENDERS):
        made = approve_transfer(
            by=cast.by("chief"),
            from_site=cast.south.pk,
            to_site=cast.north.pk,
            lines=[Wanted(shelves.kit.pk, Decimal(1))],
            override_reason="a race",
        )
        waiting.append(("send", made.pk, made.version))
        job_id, number = some_job()
        with transaction.atomic():
            claim = reservations.plan(
                by=cast.by("stranger"), job_id=job_id, job_number=number, site_id=cast.south.pk,
                item_id=shelves.kit.pk, quantity=Decimal(1), need_date=timezone.now().date(),
            )  # fmt: skip
        waiting.append(("reserve", claim.pk, 0))

    def reach(_, one):
        what, pk, version = one
        if what == "send":
            send_transfer(by=cast.by("stranger"), transfer_id=pk, expected_version=version)
        else:
            reservations.reserve(by=cast.by("stranger"), reservation_id=pk)

    assert all_at_once(cast, waiting, reach).count("held") == 1
    assert Transfer.objects.filter(state="sent").count() + Reservation.objects.filter(state="hard").count() == 1
    assert ledger_differences() + transfer_differences() == []


@pytest.mark.django_db(transaction=True)
def test_a_transfer_is_received_once_however_many_receive_it():
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stranger"), cast.south, shelves.kit, 1)
    TransitTime.objects.create(from_site=cast.south, to_site=cast.north, days=2, cost=40, currency="EUR")
    made = approve_transfer(
        by=cast.by("chief"),
        from_site=cast.south.pk,
        to_site=cast.north.pk,
        lines=[Wanted(shelves.kit.pk, Decimal(1))],
        override_reason="a race",
    )
    sent = send_transfer(by=cast.by("stranger"), transfer_id=made.pk, expected_version=made.version)

    def receive(_, one):
        try:
            receive_transfer(by=cast.by("stores"), transfer_id=one, expected_version=sent.version)
        except VersionChanged as refused:
            raise InsufficientStock("somebody was quicker", remedy="read again") from refused

    assert all_at_once(cast, [made.pk] * SENDERS, receive).count("held") == 1
    assert Movement.objects.filter(kind="transfer-in").count() == 1
    assert ledger_differences() + transfer_differences() == []
