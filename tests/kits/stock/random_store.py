"""Days of two stores in any order: receipts, losses, moves, claims, transfers, counts, kits built and broken.

After each step the ledger is compared with a `SecondBook`, and what must always hold is asked of the database. What is
refused must leave everything as it was.
"""

import datetime
import uuid
from collections import Counter, defaultdict
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import transaction
from django.utils import timezone
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine

from assets.models import Bin, Site
from kits.models import Balance, CountSettings, Movement, Reservation, ServiceTarget, TransitTime
from kits.operations import reservations
from kits.operations.stock_entries import StockEntry, record_entry
from services.api.refusals import Refusal
from tests.kits.stock import always
from tests.kits.stock.second_book import SecondBook
from tests.shelves import fill_catalogue, some_job
from tests.world import Cast

TODAY = timezone.now().date()
# Days from now on which the lots die; a kit's parts age ten years (storage group C of ISO 2230).
LASTS = {"L-1": 12, "L-2": 30, "L-3": 900}
ZERO = Decimal(0)
# What lies there when the days begin, by place of the site and of the item, and by lot; what is claimed of it.
FIRST = ((0, 0, "L-1"), (0, 1, "L-2"), (0, 2, "L-1"), (0, 2, "L-2"), (1, 2, "L-3"), (1, 1, "L-3"))
CLAIMED = ((0, 2), (1, 2), (0, 1))


class Luck(NamedTuple):
    """What chance says for one step: where, of what, which lot, how much, on which day from now, and a yes or no."""

    place: int = 0
    other: int = 0
    lot: str = "L-1"
    quantity: int = 1
    day: int = 5
    yes: bool = False


def lucks() -> st.SearchStrategy[Luck]:
    return st.builds(
        Luck, st.integers(0, 60), st.integers(0, 60), st.sampled_from(sorted(LASTS)), st.integers(1, 4),
        st.integers(0, 40), st.booleans(),
    )  # fmt: skip


class RandomStore(RuleBasedStateMachine):
    """What a store does by hand and what jobs claim of it; `RandomTrade` adds transfers, counts and kits."""

    cast: Cast

    def open_the_stores(self) -> None:
        """Two sites with two bins each, and a catalogue of two parts and a kit of them."""
        self.undo = transaction.atomic()
        self.undo.__enter__()
        self.by = self.cast.by("chief")
        self.sites = [self.cast.north, self.cast.south]
        for one in self.sites:
            Bin.objects.create(site=one, code="A-01")
            CountSettings.objects.create(site=one, value_limit=10**6, currency="EUR")
        north, south = self.sites
        TransitTime.objects.create(from_site=south, to_site=north, days=3, cost=60, currency="EUR")
        TransitTime.objects.create(from_site=north, to_site=south, days=2, cost=60, currency="EUR")
        ServiceTarget.objects.all().delete()
        shelves = fill_catalogue()
        self.items = [shelves.o_ring, shelves.bearing, shelves.kit]
        self.began = timezone.now()
        self.book = SecondBook()
        self.known: set[uuid.UUID] = set()
        self.ended = always.Ended()
        for place, item, lot in FIRST:
            self.receive(Luck(place, item, lot, 3))
        for place, item in CLAIMED:
            self.plan(Luck(place, item, quantity=2, yes=True))

    def teardown(self) -> None:
        """Nothing stays for the next example."""
        if hasattr(self, "undo"):
            transaction.set_rollback(True)
            self.undo.__exit__(None, None, None)

    # How a step is taken

    def take(self, do: Any) -> Any:
        """Do one thing, all of it or nothing; None where it is refused."""
        try:
            with transaction.atomic():
                return do()
        except Refusal:
            return None

    def moved(self, expected: dict[Any, Any], *, shelves: dict[Any, Any] | None = None) -> None:
        """These totals moved, by kind, site and item (and by shelf where they are known), and no more; the book of the
        second hand is brought up to date, and what the ledger answered is what that book asks for."""
        fresh = [one for one in Movement.objects.order_by("id") if one.pk not in self.known]
        self.known |= {one.pk for one in fresh}
        answers = [one for one in fresh if one.kind == "count-adjustment" and one.reason.startswith("counted at")]
        own = [one for one in fresh if one not in answers]
        totals: dict[Any, Decimal] = defaultdict(Decimal)
        exact: dict[Any, Decimal] = defaultdict(Decimal)
        wanted: Counter[Any] = Counter()
        for one in own:
            totals[one.kind, one.site_id, one.item_id] += one.quantity
            exact[shelf_of(one)] += one.quantity
            origin = one.reverses or one
            of_a_count = one.count_line_id is not None or origin.kind == "count-adjustment"
            wanted += self.book.write(shelf_of(one), origin.occurred_at, one.quantity, of_a_count=of_a_count)
        assert {key: total for key, total in totals.items() if total} == {
            key: total for key, total in expected.items() if total
        }
        if shelves is not None:
            assert exact == shelves
        assert Counter((shelf_of(one), one.quantity) for one in answers) == wanted
        self.look()

    def look(self) -> None:
        """All that must always hold."""
        assert {shelf_of(one): one.on_hand for one in Balance.objects.filter(on_hand__gt=0)} == self.book.lying()
        always.holds(self.ended)

    def moment(self, luck: Luck) -> datetime.datetime:
        """Now; or, told late, when the days began."""
        return self.began if luck.yes else timezone.now()

    # What there is

    def site(self, place: int) -> Site:
        return self.sites[place % 2]

    def shelf(self, place: int, *, condition: str | None = None) -> Balance | None:
        """Something that lies somewhere."""
        found = Balance.objects.filter(on_hand__gt=0).select_related("lot", "bin", "item", "site")
        if condition:
            found = found.filter(condition=condition)
        rows = list(found.order_by("site__code", "item__number", "lot__number", "bin__code", "condition"))
        return rows[place % len(rows)] if rows else None

    def claim(self, place: int, *states: str) -> Reservation | None:
        rows = list(Reservation.objects.filter(state__in=states).order_by("id"))
        return rows[place % len(rows)] if rows else None

    def free_for(self, claim: Reservation) -> Decimal:
        """What is free and in date for a claim, as the second hand reckons it."""
        rows = Balance.objects.filter(site_id=claim.site_id, item_id=claim.item_id, condition="usable")
        return sum(
            (
                self.book.on_hand(shelf_of(one)) - one.reserved
                for one in rows.select_related("lot")
                if one.lot.expires_on is None or one.lot.expires_on >= claim.need_date
            ),
            ZERO,
        )

    def entry(self, kind: str, there: Balance, quantity: int, **more: Any) -> StockEntry:
        fields: dict[str, Any] = {
            "occurred_at": timezone.now(), "bin": there.bin.code, "condition": there.condition, "reason": "a test",
        }  # fmt: skip
        return StockEntry(
            kind, there.site_id, there.item_id, there.lot.number, Decimal(quantity), **(fields | more)
        )  # fmt: skip

    # What the store does by hand

    def receive(self, luck: Luck) -> None:
        site, chosen = self.site(luck.place), self.items[luck.other % 3]
        cured = TODAY.replace(year=TODAY.year - 10) + datetime.timedelta(days=LASTS[luck.lot])
        entry = StockEntry(
            "receipt", site.pk, chosen.pk, luck.lot, Decimal(luck.quantity), self.moment(luck),
            bin=("", "A-01")[luck.place // 2 % 2],
            cure_date=None if chosen == self.items[1] else cured,
        )  # fmt: skip
        assert self.take(lambda: record_entry(by=self.by, entry=entry))
        self.moved({("receipt", site.pk, chosen.pk): luck.quantity})

    def lose(self, luck: Luck) -> None:
        """A loss takes from jobs where it must; an issue without a job takes only what is free."""
        there = self.shelf(luck.place)
        if there is None:
            return
        kind = "issue" if luck.other % 2 else "scrap"
        at = self.moment(luck)
        seen = self.book.seen(shelf_of(there), at)
        most = there.on_hand - (there.reserved if kind == "issue" else 0)
        done = self.take(
            lambda: record_entry(by=self.by, entry=self.entry(kind, there, luck.quantity, occurred_at=at))
        )  # fmt: skip
        assert bool(done) == (seen or luck.quantity <= most)
        self.moved({(kind, there.site_id, there.item_id): -luck.quantity if done else 0})

    def issue_that_happened(self, luck: Luck) -> None:
        """What the book lacks becomes a discrepancy; nothing is refused."""
        there = self.shelf(luck.place)
        if there is None:
            return
        entry = self.entry("issue", there, luck.quantity, happened=True)
        assert self.take(lambda: record_entry(by=self.by, entry=entry))
        self.moved({("issue", there.site_id, there.item_id): ZERO - min(Decimal(luck.quantity), there.on_hand)})

    def move_to_the_other_bin(self, luck: Luck) -> None:
        """A job keeps what is only moved: it lies at the site still."""
        there = self.shelf(luck.place)
        if there is None:
            return
        held = Reservation.objects.filter(state="hard").count()
        target = "A-01" if there.bin.code == "MAIN" else "MAIN"
        entry = self.entry("bin-move", there, luck.quantity, to_bin=target)
        done = self.take(lambda: record_entry(by=self.by, entry=entry))
        assert bool(done) == (luck.quantity <= there.on_hand)
        assert Reservation.objects.filter(state="hard").count() == held
        self.moved({})

    def change_condition(self, luck: Luck) -> None:
        there = self.shelf(luck.place)
        if there is None:
            return
        target = "usable" if there.condition == "quarantined" else "quarantined"
        entry = self.entry("condition-change", there, luck.quantity, condition=target)
        done = self.take(lambda: record_entry(by=self.by, entry=entry))
        assert bool(done) == (luck.quantity <= there.on_hand)
        self.moved({})

    # What jobs claim

    def plan(self, luck: Luck) -> None:
        """A job claims so much of an item for a day, and has lots reserved at once where there are any."""
        job_id, number = some_job()
        made = self.take(
            lambda: reservations.plan(
                by=self.by, job_id=job_id, job_number=number, site_id=self.site(luck.place).pk,
                item_id=self.items[luck.other % 3].pk, quantity=Decimal(luck.quantity),
                need_date=TODAY + datetime.timedelta(days=luck.day),
            )
        )  # fmt: skip
        self.moved({})
        if luck.yes:
            self.reserve_for(made)

    def reserve(self, luck: Luck) -> None:
        claim = self.claim(luck.place, "soft")
        if claim is None:
            return
        self.reserve_for(claim)

    def reserve_for(self, claim: Reservation) -> None:
        """Refused only where too little is free and in date."""
        enough = self.free_for(claim) >= claim.quantity - claim.issued
        done = self.take(lambda: reservations.reserve(by=self.by, reservation_id=claim.pk))
        assert bool(done) == enough
        self.moved({})

    def plan_anew(self, luck: Luck) -> None:
        claim = self.claim(luck.place, "soft", "hard")
        if claim is None:
            return
        need = TODAY + datetime.timedelta(days=luck.day)
        done = self.take(
            lambda: reservations.plan(
                by=self.by, job_id=claim.job_id, job_number=claim.job_number, site_id=claim.site_id,
                item_id=claim.item_id, quantity=Decimal(luck.quantity), need_date=need,
            )
        )  # fmt: skip
        assert bool(done) == (luck.quantity >= claim.issued)
        self.moved({})

    def move_the_job(self, luck: Luck) -> None:
        claim = self.claim(luck.place, "soft", "hard")
        if claim is None:
            return
        need = TODAY + datetime.timedelta(days=luck.day)
        self.take(lambda: reservations.move_need_date(by=self.by, job_id=claim.job_id, need_date=need))
        self.moved({})

    def release(self, luck: Luck) -> None:
        claim = self.claim(luck.place, "soft", "hard")
        if claim is None:
            return
        assert self.take(lambda: reservations.release(by=self.by, job_id=claim.job_id))
        self.moved({})

    def issue(self, luck: Luck) -> None:
        claim = self.claim(luck.place, "hard")
        if claim is None:
            return
        left = claim.quantity - claim.issued
        done = self.take(
            lambda: reservations.issue(
                by=self.by, reservation_id=claim.pk, quantity=Decimal(luck.quantity), occurred_at=timezone.now()
            )
        )
        assert bool(done) == (luck.quantity <= left)
        self.moved({("issue", claim.site_id, claim.item_id): -luck.quantity if done else 0})


def shelf_of(one: Any) -> tuple[Any, ...]:
    """Where a movement or balance stands."""
    return one.site_id, one.bin_id, one.item_id, one.lot_id, one.condition
