"""What goes into a kit, what of it lies loose, and how many kits that makes."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F, Sum

from assets.calculations.part_numbers import normalise_number
from assets.queries.sites import sites
from kits.calculations.kit_building import Choice, Requirement, buildable, holding_up
from kits.models import Balance, Lot, Movement
from kits.queries.availability import in_date
from kits.queries.kits import kit_lines
from kits.queries.supersessions import chains_of
from services.api.refusals import InvalidValue
from services.api.rows import plain_rows
from services.identity.callers import Caller


@dataclass(frozen=True)
class Contents:
    """A kit's lines and what they ask for; part ids as keys, and the number of each."""

    lines: list[dict[str, Any]]
    requirements: list[Requirement[uuid.UUID]]
    numbers: dict[uuid.UUID, str]

    def places_of(self, part: uuid.UUID) -> list[Choice[uuid.UUID]]:
        """The lines on which a part may stand."""
        return [choice for one in self.requirements for choice in one.choices if part in choice.parts]


def contents_of(kit_id: uuid.UUID, on: datetime.date) -> Contents:
    """What a revision of a kit holds on a day: each line's own part first, then whatever may stand for it by
    supersession, by number. Two queries."""
    lines = kit_lines(kit_id)
    chains = chains_of([line["number"] for line in lines])
    numbers: dict[uuid.UUID, str] = {}
    groups: dict[str, list[dict[str, Any]]] = {}
    for line in lines:
        groups.setdefault(line["alternative_group"] or f"#{line['line']}", []).append(line)
    requirements = []
    for group in groups.values():
        choices = []
        for line in group:
            others = sorted(chains.links.standing_for(normalise_number(line["number"]), on))
            parts = {line["part_id"]: line["number"]}
            parts |= {chains.part(one)["part"]: chains.part(one)["number"] for one in others}
            numbers |= parts
            choices.append(Choice(line["line"], line["quantity"], tuple(parts)))
        requirements.append(Requirement(tuple(choices), all(line["optional"] for line in group)))
    return Contents(lines, requirements, numbers)


def buildable_at_sites(
    by: Caller, *, kit_id: uuid.UUID, on: datetime.date, site_id: uuid.UUID | None = None
) -> list[dict[str, Any]]:
    """How many kits each of the caller's sites could build on a day from what is free and in date there, and which
    lines hold it up. Four queries, whatever the number of sites."""
    contents = contents_of(kit_id, on)
    asked = sites(by=by).order_by("code")
    if site_id is not None:
        asked = asked.filter(pk=site_id)
    found = list(asked.values_list("id", "code"))
    free: dict[uuid.UUID, dict[uuid.UUID, Decimal]] = {}
    rows = (
        Balance.objects.filter(
            in_date(on), site_id__in=[pk for pk, _ in found], item_id__in=list(contents.numbers), condition="usable",
            on_hand__gt=F("reserved"),
        )
        .values_list("site_id", "item_id")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )  # fmt: skip
    for site, item, quantity in rows:
        free.setdefault(site, {})[item] = quantity
    return [_at_site(contents, pk, code, free.get(pk, {})) for pk, code in found]


def _at_site(contents: Contents, site_id: uuid.UUID, code: str, free: Mapping[uuid.UUID, Decimal]) -> dict[str, Any]:
    count = buildable(contents.requirements, free)
    lines = holding_up(contents.requirements, free, count)
    return {
        "site": site_id,
        "site_code": code,
        "buildable": count,
        "held_up_by": lines_short(contents, free, lines),
        "parts_shared": bool(contents.lines) and not lines,
        "words": _words(contents, code, count, lines),
    }


def lines_short(contents: Contents, free: Mapping[uuid.UUID, Decimal], lines: Sequence[int]) -> list[dict[str, Any]]:
    """Some lines with what a kit takes and what is free of the parts that may stand there."""
    choices = {choice.line: choice for one in contents.requirements for choice in one.choices}
    by_line = {line["line"]: line for line in contents.lines}
    return [
        {
            "line": line,
            "part": by_line[line]["part_id"],
            "number": by_line[line]["number"],
            "takes": choices[line].quantity,
            "free": sum((free.get(part, Decimal(0)) for part in choices[line].parts), Decimal(0)),
        }
        for line in lines
    ]


def _words(contents: Contents, code: str, count: int, lines: Sequence[int]) -> str:
    if not contents.lines:
        return "The kit has no lines yet."
    by_line = {line["line"]: line["number"] for line in contents.lines}
    built = f"{count or 'No'} {'kit' if count == 1 else 'kits'} can be built at {code}"
    if not lines:
        return f"{built}; lines share parts of which there are too few for more."
    return f"{built}; {', '.join(dict.fromkeys(by_line[one] for one in lines))} {_holds(lines)} it up."


def _holds(lines: Sequence[int]) -> str:
    return "holds" if len(lines) == 1 else "hold"


def built_lot(kit_id: uuid.UUID, number: str) -> Lot:
    """A lot of a kit by its number. One query. Raises `InvalidValue`."""
    found = Lot.objects.filter(item_id=kit_id, number=number).first()
    if found is None:
        raise InvalidValue(
            f"The kit has no lot {number}.", remedy="Read the number on the bag; GET /lots lists them.", pointer="#/lot"
        )
    return found


def built_from(lot_id: uuid.UUID) -> tuple[Decimal, list[dict[str, Any]]]:
    """(how many kits of a lot were built here, the lots of parts that went in); 0 where it came from a supplier. Two
    queries."""
    made = (
        Movement.objects.filter(lot_id=lot_id, kind="kit-build", quantity__gt=0, reverses=None, reversed_by=None)
        .values_list("quantity", "pair")
        .first()
    )
    if made is None:
        return Decimal(0), []
    quantity, pair = made
    rows = Movement.objects.filter(pair=pair, quantity__lt=0, reverses=None).values(
        "item_id", "lot_id", used=-F("quantity"), lot_number=F("lot__number")
    )
    return quantity, plain_rows(rows.order_by("item_id", "lot__number"))
