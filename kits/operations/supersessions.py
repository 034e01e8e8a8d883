"""Which part replaces which: said, changed, withdrawn. No chain leads back to its beginning."""

import datetime
import uuid
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from assets.access import require_operator_wide
from assets.calculations.part_numbers import normalise_number
from kits.calculations.supersession import Link
from kits.models import Item, Supersession
from kits.operations.parts import OWNERS
from kits.queries.supersessions import chains_of
from kits.refusals_catalogue import SupersessionCycle
from services.api.refusals import InvalidValue, NotThere, WrongState
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

WRITING = 650_216_002
ONE_DAY = datetime.timedelta(days=1)


def take_turn() -> None:
    """Wait until nobody else writes supersessions, and keep the turn until this transaction ends.

    Two links that are sound each by itself may close a circle together, and the parts where their chains meet may be
    named by neither: rows to lock for that would not be known beforehand.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [WRITING])


@transaction.atomic(savepoint=False)
def register_supersession(
    *,
    by: Caller,
    old_id: uuid.UUID,
    new_id: uuid.UUID,
    from_date: datetime.date,
    both_ways: bool = False,
    until_date: datetime.date | None = None,
    supersession_id: uuid.UUID | None = None,
) -> Supersession:
    """From a date one part replaces another, until another date where one is named. Raises `SupersessionCycle`,
    `InvalidValue`, `AlreadyThere`."""
    require_operator_wide(by, *OWNERS)
    numbers = dict(Item.objects.filter(kind="part", pk__in=[old_id, new_id]).values_list("id", "number"))
    for field, part_id in (("old", old_id), ("new", new_id)):
        if part_id not in numbers:
            raise InvalidValue("There is no such part.", remedy="GET /parts lists them.", pointer=f"#/{field}")
    _check_days(from_date, until_date)
    take_turn()
    link = _link(numbers[old_id], numbers[new_id], from_date, both_ways, until_date)
    _refuse_cycle(link, None)
    made = Supersession.objects.create(
        old_id=old_id,
        new_id=new_id,
        from_date=from_date,
        until_date=until_date,
        both_ways=both_ways,
        **({"id": supersession_id} if supersession_id else {}),
    )
    _tell("supersession.registered", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_supersession(
    *, by: Caller, supersession_id: uuid.UUID, expected_version: int, **changes: Any
) -> Supersession:
    """Change its dates or direction. Raises `NotThere`, `VersionChanged`, `InvalidValue`, `SupersessionCycle`."""
    require_operator_wide(by, *OWNERS)
    take_turn()
    kept = _kept(supersession_id, expected_version)
    before = _link_of(kept)
    for name, value in changes.items():
        setattr(kept, name, value)
    _check_days(kept.from_date, kept.until_date)
    _refuse_cycle(_link_of(kept), before)
    if changes:
        Supersession.objects.filter(pk=kept.pk).update(**changes)
        kept.refresh_from_db(fields=["version"])
    _tell("supersession.changed", kept, by)
    return kept


@transaction.atomic(savepoint=False)
def withdraw_supersession(
    *, by: Caller, supersession_id: uuid.UUID, expected_version: int, last_day: datetime.date | None = None
) -> Supersession:
    """Take it back: it holds for the last time on a day, yesterday if none is named. What was done under it stays
    explained. Raises `NotThere`, `VersionChanged`, `WrongState` where it ends by then already."""
    require_operator_wide(by, *OWNERS)
    take_turn()
    kept = _kept(supersession_id, expected_version)
    day = timezone.now().date() - ONE_DAY if last_day is None else last_day
    end = max(day, kept.from_date - ONE_DAY)
    if kept.until_date is not None and kept.until_date <= end:
        raise WrongState(
            f"It ends on {kept.until_date} already.",
            remedy="Change until_date if that day is wrong.",
            pointer="#/last_day",
        )
    Supersession.objects.filter(pk=kept.pk).update(until_date=end)
    kept.refresh_from_db(fields=["version", "until_date"])
    _tell("supersession.withdrawn", kept, by)
    return kept


def _kept(supersession_id: uuid.UUID, expected_version: int) -> Supersession:
    kept = Supersession.objects.select_related("old__item", "new__item").filter(pk=supersession_id).first()
    if kept is None:
        raise NotThere("The supersession is not here.", remedy="Check the id.")
    if kept.version != expected_version:
        raise version_changed("The supersession", kept.version)
    return kept


def _check_days(from_date: datetime.date, until_date: datetime.date | None) -> None:
    if until_date is not None and until_date < from_date - ONE_DAY:
        raise InvalidValue("It ends before it begins.", remedy="Swap the two days.", pointer="#/until_date")


def _link(old: str, new: str, from_date: datetime.date, both_ways: bool, until_date: datetime.date | None) -> Link[str]:
    return Link(normalise_number(old), normalise_number(new), from_date, both_ways, until_date)


def _link_of(one: Supersession) -> Link[str]:
    return _link(one.old.item.number, one.new.item.number, one.from_date, one.both_ways, one.until_date)


def _refuse_cycle(link: Link[str], before: Link[str] | None) -> None:
    chains = chains_of([link.old, link.new]).links
    if before is not None:
        chains.drop(before)
    if chains.closes_a_cycle(link):
        raise SupersessionCycle(
            "The newer part leads back to the older one already.",
            remedy="Check which of the two is the newer, or let the older chain end first.",
            pointer="#/new",
        )


def _tell(kind: str, made: Supersession, by: Caller) -> None:
    record_change(
        kind,
        noun="supersession",
        noun_id=made.pk,
        version=made.version,
        by=by,
        body={
            "old": made.old_id,
            "new": made.new_id,
            "from_date": made.from_date,
            "until_date": made.until_date,
            "both_ways": made.both_ways,
        },
    )
