"""Beside what a store does by hand: transfers, counts, kits built and broken, corrections, lots that change hands."""

from decimal import Decimal
from typing import Any

from django.db.models import Sum
from django.utils import timezone
from hypothesis import strategies as st
from hypothesis.stateful import initialize, rule

from kits.models import Count, CountLine, Lot, Movement, Reservation, Transfer, TransferLine, TransferLot
from kits.operations.corrections import reverse_movement
from kits.operations.count_entries import Counted, enter_counted
from kits.operations.count_posting import post_count
from kits.operations.counts import cancel_count, make_count, submit_count
from kits.operations.kit_breaking import break_kits
from kits.operations.kit_building import build_kits
from kits.operations.lot_exchange import exchange_lots
from kits.operations.returns import take_back
from kits.operations.taking_over import take_over
from kits.operations.transfer_receipts import Came, close_transfer_short, receive_transfer
from kits.operations.transfers import Wanted, approve_transfer, cancel_transfer, send_transfer
from tests.kits.stock.random_store import TODAY, ZERO, Luck, RandomStore, lucks, shelf_of

ON_THE_WAY = ("sent", "part-received")


class RandomTrade(RandomStore):
    """All that moves stock."""

    def transfer(self, place: int, *states: str) -> Transfer | None:
        rows = list(Transfer.objects.filter(state__in=states).order_by("id"))
        return rows[place % len(rows)] if rows else None

    def count(self, place: int, *states: str) -> Count | None:
        rows = list(Count.objects.filter(state__in=states).order_by("id"))
        return rows[place % len(rows)] if rows else None

    # Transfers

    def agree_on_a_transfer(self, luck: Luck) -> None:
        there = self.shelf(luck.place, condition="usable")
        if there is None:
            return
        receiver = next(one for one in self.sites if one.pk != there.site_id)
        waiting = Reservation.objects.filter(site=receiver, item_id=there.item_id, state="soft").order_by("id").first()
        made = self.take(
            lambda: approve_transfer(
                by=self.by, from_site=there.site_id, to_site=receiver.pk, override_reason="a test",
                lines=[Wanted(there.item_id, Decimal(luck.quantity))],
                reservation_id=waiting.pk if waiting and luck.other % 2 else None,
            )
        )  # fmt: skip
        assert made.state == "approved"
        self.moved({})
        if luck.yes:
            self.send_it(made, less=0)

    def send(self, luck: Luck) -> None:
        transfer = self.transfer(luck.place, "approved")
        if transfer is None:
            return
        self.send_it(transfer, luck.other % 2)

    def send_it(self, transfer: Transfer, less: int) -> None:
        """All that was agreed on, or one less."""
        line = TransferLine.objects.get(transfer=transfer)
        leaving = max(line.quantity - less, Decimal(1))
        done = self.take(
            lambda: send_transfer(
                by=self.by, transfer_id=transfer.pk, expected_version=transfer.version, quantities={1: leaving}
            )
        )
        self.moved({("transfer-out", transfer.from_site_id, line.item_id): -leaving if done else 0})

    def receive_a_transfer(self, luck: Luck) -> None:
        """All that is under way, or so much of a lot: less, as much or more than left."""
        transfer = self.transfer(luck.place, *ON_THE_WAY, *(("closed-short", "received") if luck.yes else ()))
        if transfer is None:
            return
        line = TransferLine.objects.get(transfer=transfer)
        left = list(TransferLot.objects.filter(line=line, sent__gt=0).select_related("lot").order_by("id"))
        under_way = sum((max(one.sent - one.received, ZERO) for one in left), ZERO)
        lot = left[luck.other // 2 % len(left)]
        came = [Came(1, lot.lot.number, Decimal(luck.quantity))] if luck.other % 2 else None
        expected = under_way if came is None else Decimal(luck.quantity)
        done = self.take(
            lambda: receive_transfer(by=self.by, transfer_id=transfer.pk, expected_version=transfer.version, came=came)
        )
        assert bool(done) == bool(expected)
        self.moved({("transfer-in", transfer.to_site_id, line.item_id): expected if done else 0})

    def close_short(self, luck: Luck) -> None:
        transfer = self.transfer(luck.place, *ON_THE_WAY)
        if transfer is None:
            return
        assert self.take(
            lambda: close_transfer_short(
                by=self.by, transfer_id=transfer.pk, expected_version=transfer.version, reason="lost on the way"
            )
        )
        self.moved({})

    def cancel_a_transfer(self, luck: Luck) -> None:
        """What left and has not come anywhere is back where it was."""
        transfer = self.transfer(luck.place, "approved", *ON_THE_WAY)
        if transfer is None:
            return
        line = TransferLine.objects.get(transfer=transfer)
        done = self.take(
            lambda: cancel_transfer(
                by=self.by, transfer_id=transfer.pk, expected_version=transfer.version, reason="not needed"
            )
        )
        assert bool(done) == (transfer.state in {"approved", "sent"})
        self.moved({("transfer-out", transfer.from_site_id, line.item_id): line.sent if done else 0})

    # Counts

    def count_a_line(self, luck: Luck) -> None:
        """What lies there, or a little off; on a new sheet where there is none."""
        sheet = self.count(luck.place, "open")
        if sheet is None and self.count(0, "counted") is None:
            sheet = self.take(lambda: make_count(by=self.by, site_id=self.site(luck.place).pk))
        if sheet is None:
            return
        lines = list(CountLine.objects.filter(count=sheet).order_by("line"))
        chosen = lines[luck.other % len(lines)]
        quantity = max(self.book.on_hand(self.shelf_of_line(sheet, chosen)) + luck.quantity - 3, ZERO)
        entered = Counted(quantity, timezone.now(), line=chosen.line)
        assert self.take(lambda: enter_counted(by=self.by, count_id=sheet.pk, entries=[entered]))
        self.moved({})

    def count_the_rest_and_hand_it_in(self, luck: Luck) -> None:
        sheet = self.count(luck.place, "open")
        if sheet is None:
            return
        entries = [
            Counted(self.book.on_hand(self.shelf_of_line(sheet, one)), timezone.now(), line=one.line)
            for one in CountLine.objects.filter(count=sheet, state="to-count").order_by("line")
        ]

        def hand_in() -> Count:
            version = sheet.version
            if entries:
                version = enter_counted(by=self.by, count_id=sheet.pk, entries=entries).version
            return submit_count(by=self.by, count_id=sheet.pk, expected_version=version)

        assert self.take(hand_in).state == "counted"
        self.moved({})

    def post_a_count(self, luck: Luck) -> None:
        """The shelf then holds what was counted, with whatever moved since; it is refused where more left since."""
        sheet = self.count(luck.place, "counted")
        if sheet is None:
            return
        expected: dict[Any, Decimal] = {}
        shelves, counted, contradicted = {}, {}, False
        for one in CountLine.objects.filter(count=sheet).order_by("line"):
            assert one.quantity is not None
            assert one.counted_at is not None
            shelf = self.shelf_of_line(sheet, one)
            difference = one.quantity - self.book.up_to(shelf, one.counted_at)
            contradicted = contradicted or self.book.on_hand(shelf) + difference < 0
            key = ("count-adjustment", sheet.site_id, one.item_id)
            expected[key] = expected.get(key, ZERO) + difference
            counted[shelf] = one.counted_at
            if difference:
                shelves[shelf] = difference
        done = self.take(lambda: post_count(by=self.by, count_id=sheet.pk, expected_version=sheet.version))
        assert bool(done) != contradicted
        if done:
            self.book.counted |= counted
        self.moved(expected if done else {}, shelves=shelves if done else {})

    def cancel_a_count(self, luck: Luck) -> None:
        """Nothing of it stays; seldom, so that others come to their end."""
        sheet = self.count(luck.place, "open", "counted")
        if sheet is None or luck.other % 4:
            return
        assert self.take(
            lambda: cancel_count(by=self.by, count_id=sheet.pk, expected_version=sheet.version, reason="a test")
        )
        self.moved({})

    def shelf_of_line(self, sheet: Count, line: CountLine) -> tuple[Any, ...]:
        lot = Lot.objects.get(item_id=line.item_id, number=line.lot_number)
        return sheet.site_id, line.bin_id, line.item_id, lot.pk, line.condition

    # Kits

    def build(self, luck: Luck) -> None:
        """A kit takes one of each part."""
        site, number = self.site(luck.place), f"BUILT-{Lot.objects.count()}"
        done = self.take(
            lambda: build_kits(
                by=self.by, site_id=site.pk, kit_id=self.items[2].pk, quantity=luck.quantity, lot=number,
                reason="a test", occurred_at=timezone.now(),
            )
        )  # fmt: skip
        made = luck.quantity if done else 0
        self.moved(
            {("kit-build", site.pk, one.pk): made * sign for one, sign in zip(self.items, (-1, -1, 1), strict=True)}
        )

    def break_up(self, luck: Luck) -> None:
        """The parts of a kit come back."""
        there = self.shelf(luck.place)
        if there is None or there.item_id != self.items[2].pk:
            return
        done = self.take(
            lambda: break_kits(
                by=self.by, site_id=there.site_id, kit_id=there.item_id, lot=there.lot.number, quantity=luck.quantity,
                occurred_at=timezone.now(), reason="a test", bin_code=there.bin.code, condition=there.condition,
            )
        )  # fmt: skip
        broken = luck.quantity if done else 0
        self.moved(
            {
                ("kit-break", there.site_id, one.pk): broken * sign
                for one, sign in zip(self.items, (1, 1, -1), strict=True)
            }
        )

    # Corrections, and lots that change hands

    def correct(self, luck: Luck) -> None:
        """A movement is reversed, both sides of it where it has two."""
        rows = list(Movement.objects.order_by("-id")[:12])
        chosen = rows[luck.place % len(rows)]
        sides = [chosen] if chosen.pair is None else list(Movement.objects.filter(pair=chosen.pair, reverses=None))
        done = self.take(lambda: reverse_movement(by=self.by, movement_id=chosen.pk, reason="a test"))
        expected: dict[Any, Decimal] = {}
        for one in sides if done else []:
            key = (one.kind, one.site_id, one.item_id)
            expected[key] = expected.get(key, ZERO) - one.quantity
            if one.count_line_id is not None:
                self.book.counted.pop(shelf_of(one), None)
        self.moved(expected)

    def bring_back(self, luck: Luck) -> None:
        """At most what is out of a lot for a job comes back."""
        rows = list(Movement.objects.filter(kind="issue", reverses=None).exclude(job_id=None).order_by("id"))
        if not rows:
            return
        taken = rows[luck.place % len(rows)]
        assert taken.job_id is not None
        of_it = Movement.objects.filter(job_id=taken.job_id, lot_id=taken.lot_id, kind__in=["issue", "return"])
        out_for, out = taken.job_id, ZERO - of_it.aggregate(total=Sum("quantity"))["total"]
        done = self.take(
            lambda: take_back(
                by=self.by, job_id=out_for, movement_id=taken.pk, quantity=Decimal(luck.quantity), reason="unopened",
                occurred_at=timezone.now(),
            )
        )  # fmt: skip
        assert bool(done) == (luck.quantity <= out)
        self.moved({("return", taken.site_id, taken.item_id): luck.quantity if done else 0})

    def take_over(self, luck: Luck) -> None:
        giver, taker = self.claim(luck.place, "hard"), self.claim(luck.other, "soft")
        if giver is None or taker is None:
            return
        done = self.take(
            lambda: take_over(
                by=self.by, from_id=giver.pk, for_id=taker.pk, expected_version=giver.version, reason="a test"
            )
        )
        if done:
            assert Reservation.objects.get(pk=taker.pk).state == "hard"
        self.moved({})

    def exchange_lots(self, luck: Luck) -> None:
        """Nobody is left with less."""
        held = Reservation.objects.filter(state="hard").count()
        assert self.take(lambda: exchange_lots(by=self.by, site_id=self.site(luck.place).pk, today=TODAY))
        assert Reservation.objects.filter(state="hard").count() == held
        self.moved({})

    def let_a_job_wait(self, luck: Luck) -> None:
        """A claim for a later day than the shortest lots last."""
        there = self.shelf(luck.place)
        if there is None:
            return
        place, item = self.sites.index(there.site), self.items.index(there.item)
        self.plan(luck._replace(place=place, other=item, quantity=1, day=13 + luck.day, yes=True))


DOINGS = (
    "receive", "lose", "lose", "issue_that_happened", "move_to_the_other_bin", "move_to_the_other_bin",
    "change_condition", "plan", "plan", "reserve", "plan_anew", "move_the_job", "release", "issue", "issue",
    "agree_on_a_transfer", "send", "receive_a_transfer", "receive_a_transfer", "close_short", "cancel_a_transfer",
    "count_a_line", "count_a_line", "count_the_rest_and_hand_it_in", "post_a_count", "post_a_count", "cancel_a_count",
    "build", "break_up", "correct", "correct", "bring_back", "take_over", "exchange_lots", "let_a_job_wait",
)  # fmt: skip


class RandomDays(RandomTrade):
    """One thing after the other. What cannot be done just then is passed over."""

    @initialize()
    def begin(self) -> None:
        self.open_the_stores()

    # One rule that draws, not a rule for each: of many rules an example uses only some, and the mixture is wanted.
    @rule(doing=st.sampled_from(DOINGS), luck=lucks())
    def go_on(self, doing: str, luck: Luck) -> None:
        getattr(self, doing)(luck)
