"""Lots, opening stock and 36 months of movements, played through month by month so that no balance falls below zero."""

import datetime
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from services.demo.operator.days import Days, as_quarter, moment
from services.demo.operator.kits import FITTING, KitRow
from services.demo.operator.places import CENTRAL
from services.demo.operator.stock_plan import MONTHS, STORY_SITE, UNTOUCHED, Kept

STORY_ORDER = "FO-1047"
OPENING_COLUMNS = "external_id,site,bin,item,revision,lot,quantity,condition,occurred_at"
MOVEMENT_COLUMNS = "external_id,kind,site,bin,item,revision,lot,quantity,condition,occurred_at,reason,job,reverses"


@dataclass(eq=False)
class Lot:
    """A lot of an item; ``cured`` is None where nothing in it ages."""

    number: str
    item: Kept
    received: datetime.date
    cured: datetime.date | None
    shown_as_quarter: bool


@dataclass(eq=False)
class Event:
    """One movement. ``quantity`` is signed: what the shelf gains."""

    day: datetime.date
    hour: int
    kind: str
    site: str
    bin: str
    lot: Lot
    quantity: int
    reason: str = ""
    condition: str = "usable"
    job: str = ""
    reverses: "Event | None" = None
    external_id: str = ""


@dataclass
class Play:
    """What has happened so far: lots, events, and what lies where by (site, item)."""

    days: Days
    chance: random.Random
    lots: list[Lot] = field(default_factory=list)
    opening: list[Event] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    shelves: dict[tuple[str, str], list[list[Any]]] = field(default_factory=dict)

    def on_hand(self, kept: Kept) -> int:
        """How many lie there."""
        return sum(quantity for _, quantity in self.shelves.get((kept.site, kept.number), []))

    def new_lot(self, kept: Kept, received: datetime.date, cured: datetime.date | None = None) -> Lot:
        """A lot as it came, cured some months before."""
        if kept.ages_years and cured is None:
            cured = received - datetime.timedelta(days=self.chance.randint(40, 260))
        lot = Lot(f"L{len(self.lots) + 10401}", kept, received, cured, self.chance.random() < 0.5)
        self.lots.append(lot)
        return lot

    def put(self, kept: Kept, lot: Lot, quantity: int) -> None:
        """Onto the shelf."""
        self.shelves.setdefault((kept.site, kept.number), []).append([lot, quantity])

    def take(self, kept: Kept, quantity: int) -> list[tuple[Lot, int]]:
        """Off the shelf, the oldest cure first."""
        shelf = sorted(
            self.shelves.get((kept.site, kept.number), []),
            key=lambda one: (one[0].cured or one[0].received, one[0].number),
        )
        taken = []
        for one in shelf:
            part = min(quantity, one[1])
            if part:
                taken.append((one[0], part))
                one[1] -= part
                quantity -= part
        if quantity:
            raise ValueError(f"{kept.number} at {kept.site}: {quantity} are lacking")
        return taken


def play(days: Days, kept: Sequence[Kept], kits: Sequence[KitRow]) -> Play:
    """The history of all shelves, the movements in the order in which they happened."""
    game = Play(days, random.Random(1137))
    for _, group in groupby(kept, key=lambda one: one.number):
        _play_item(game, list(group))
    _leave_untouched(game, {one.number: one for one in kits}, kept)
    _oddities(game, kept)
    game.events.sort(key=lambda one: (one.day, one.hour))
    for number, event in enumerate(game.opening, 1):
        event.external_id = f"op-{number:04d}"
    for number, event in enumerate(game.events, 1):
        event.external_id = f"mv-{number:05d}"
    return game


def _play_item(game: Play, places: list[Kept]) -> None:
    central = next((one for one in places if one.site == CENTRAL), None)
    for kept in places:
        opened = game.days.in_month(MONTHS + 1, 1)
        lot = game.new_lot(kept, opened - datetime.timedelta(days=game.chance.randint(20, 200)))
        game.put(kept, lot, kept.opening)
        game.opening.append(Event(opened, 6, "opening", kept.site, kept.bin, lot, kept.opening, "Stocktake"))
    for back in range(MONTHS, 0, -1):
        # The central store first: what comes to it early in the month can go on to the sites.
        for kept in sorted(places, key=lambda one: one.site != CENTRAL):
            need = kept.needs[MONTHS - back]
            wanted = need and need + _spare(game, kept)
            if game.on_hand(kept) < wanted:
                _fill(game, kept, central, wanted, back)
        for kept in places:
            if kept.needs[MONTHS - back]:
                _use(game, kept, kept.needs[MONTHS - back], back)
    if places[0].number == FITTING:
        story = next(one for one in places if one.site == STORY_SITE)
        _receive(game, story, 1, game.days.in_month(1, 12), f"Order {STORY_ORDER}, part delivery")


def _spare(game: Play, kept: Kept) -> int:
    """One more than is needed, mostly; of the story's kit exactly what is needed."""
    return int(kept.number != FITTING and game.chance.random() < 0.7)


def _fill(game: Play, kept: Kept, central: Kept | None, need: int, back: int) -> None:
    lacking = need - game.on_hand(kept)
    if (
        central is not None
        and kept.site != CENTRAL
        and kept.number != FITTING
        and game.on_hand(central) > lacking
        and game.chance.random() < 0.5
    ):
        day = game.days.in_month(back, game.chance.randint(5, 8))
        for lot, quantity in game.take(central, lacking):
            words = f"{central.site} to {kept.site}"
            game.events.append(Event(day, 8, "transfer-out", central.site, central.bin, lot, -quantity, words))
            game.events.append(Event(day, 15, "transfer-in", kept.site, kept.bin, lot, quantity, words))
            game.put(kept, lot, quantity)
        return
    quantity = -(-lacking // kept.packed_in) * kept.packed_in
    _receive(game, kept, quantity, game.days.in_month(back, game.chance.randint(1, 4)), "Delivery")


def _receive(game: Play, kept: Kept, quantity: int, day: datetime.date, reason: str) -> None:
    lot = game.new_lot(kept, day)
    game.put(kept, lot, quantity)
    game.events.append(Event(day, 9, "receipt", kept.site, kept.bin, lot, quantity, reason))


def _use(game: Play, kept: Kept, need: int, back: int) -> None:
    day = game.days.in_month(back, game.chance.randint(11, 24))
    for lot, quantity in game.take(kept, need):
        game.events.append(Event(day, 10, "issue", kept.site, kept.bin, lot, -quantity))
        if kept.number != FITTING and game.chance.random() < 0.02:
            after = day + datetime.timedelta(days=2)
            game.events.append(Event(after, 14, "return", kept.site, kept.bin, lot, 1, "Came back unopened"))
            game.put(kept, lot, 1)


def _leave_untouched(game: Play, kits: dict[str, KitRow], kept: Sequence[Kept]) -> None:
    opened = game.days.in_month(MONTHS + 1, 1)
    for one in UNTOUCHED:
        kit = kits[one.number]
        item = next(row for row in kept if row.number == one.number)
        cured = game.days.cured_to_expire(one.expires_in, kit.ages_years)
        received = cured + datetime.timedelta(days=45)
        lot = game.new_lot(item, received, cured)
        lot.shown_as_quarter = False
        game.opening.append(Event(opened, 6, "opening", one.site, one.bin, lot, one.quantity, "Stocktake"))


def _oddities(game: Play, kept: Sequence[Kept]) -> None:
    """What else happens in a store, once each, late in the last month and only where enough lies there."""
    day = game.days.in_month(1, 27)
    plenty = [one for one in kept if one.site == CENTRAL and not one.revision and game.on_hand(one) >= 3]
    counted, torn, moved, mistaken, scrapped = plenty[0], plenty[7], plenty[14], plenty[21], plenty[28]

    def event(one: Kept, hour: int, kind: str, quantity: int, reason: str, **more: Any) -> Event:
        lot, _ = game.take(one, 1)[0]
        made = Event(day, hour, kind, one.site, more.pop("bin", one.bin), lot, quantity, reason, **more)
        game.events.append(made)
        return made

    event(counted, 9, "count-adjustment", -1, "Stocktake: one fewer than booked")
    first = event(torn, 10, "condition-change", -1, "Pack torn")
    game.events.append(
        Event(day, 10, "condition-change", CENTRAL, torn.bin, first.lot, 1, "Pack torn", condition="quarantined")
    )
    left = event(moved, 11, "bin-move", -1, "To the second aisle")
    game.events.append(Event(day, 11, "bin-move", CENTRAL, "A-02", left.lot, 1, "To the second aisle"))
    wrong = event(mistaken, 12, "issue", -1, "")
    back = Event(day, 13, "issue", CENTRAL, mistaken.bin, wrong.lot, 1, "Booked on the wrong part", reverses=wrong)
    game.events.append(back)
    event(scrapped, 14, "scrap", -1, "Dropped and bent")


def lot_rows(game: Play) -> list[tuple[str, ...]]:
    """item, revision, lot, cure date as on the pack, received on."""
    return [(one.item.number, one.item.revision, one.number, _cure(one), one.received.isoformat()) for one in game.lots]


def _cure(lot: Lot) -> str:
    if lot.cured is None:
        return ""
    return as_quarter(lot.cured) if lot.shown_as_quarter else lot.cured.isoformat()


def opening_rows(events: Iterable[Event]) -> list[tuple[Any, ...]]:
    """Rows of the file of opening stock."""
    return [
        (one.external_id, one.site, one.bin, one.lot.item.number, one.lot.item.revision, one.lot.number, one.quantity,
         one.condition, moment(one.day, one.hour))
        for one in events
    ]  # fmt: skip


def movement_rows(events: Iterable[Event]) -> list[tuple[Any, ...]]:
    """Rows of the file of movements."""
    return [
        (one.external_id, one.kind, one.site, one.bin, one.lot.item.number, one.lot.item.revision, one.lot.number,
         one.quantity, one.condition, moment(one.day, one.hour), one.reason, one.job,
         one.reverses.external_id if one.reverses else "")
        for one in events
    ]  # fmt: skip
