"""Reading chains of supersession: what replaces a part, what it replaced, and what is the newest on a day."""

import datetime
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import connection

from assets.calculations.part_numbers import normalise_number
from kits.calculations.supersession import Link, Supersessions
from kits.models import Item
from kits.queries.parts import part_for, part_ids_by_normalised_number

CHAINS = "SELECT * FROM supersession_chains(%s::text[]) ORDER BY from_date, id"


@dataclass
class Chains:
    """Chains of supersession between numbers as compared, with the parts that stand in them."""

    links: Supersessions[str] = field(default_factory=Supersessions)
    ids: dict[Link[str], uuid.UUID] = field(default_factory=dict)
    parts: dict[str, dict[str, Any]] = field(default_factory=dict)

    def part(self, number: str) -> dict[str, Any]:
        """Id and number of the part at a place of a chain."""
        return self.parts[number]


def chains_of(numbers: Iterable[str]) -> Chains:
    """The whole chains in which some numbers stand, nothing of the others. One query."""
    wanted = sorted({normalise_number(number) for number in numbers} - {""})
    chains = Chains()
    if not wanted:
        return chains
    with connection.cursor() as cursor:
        cursor.execute(CHAINS, [wanted])
        rows = cursor.fetchall()
    for link_id, old_id, old, new_id, new, from_date, both_ways, until_date in rows:
        link = Link(normalise_number(old), normalise_number(new), from_date, both_ways, until_date)
        chains.links.add(link)
        chains.ids[link] = link_id
        chains.parts.setdefault(link.old, {"part": old_id, "number": old})
        chains.parts.setdefault(link.new, {"part": new_id, "number": new})
    return chains


def supersessions_of_part(part_id: Any, on: datetime.date) -> dict[str, Any]:
    """What replaces a part and what it replaced, nearest first, and the newest on a day. Two queries. Raises
    `NotThere`."""
    item = part_for(part_id).item
    place, chains = normalise_number(item.number), chains_of([item.number])
    here = {"part": item.pk, "number": item.number}

    def shaped(steps: int, link: Link[str], other: str) -> dict[str, Any]:
        return {
            **chains.part(other),
            "supersession": chains.ids[link],
            "steps": steps,
            "from_date": link.from_date,
            "until_date": link.until_date,
            "both_ways": link.both_ways,
            "holds": link.holds(on),
            "stands_in": chains.links.serves(place, other, on) is not None,
        }

    return {
        **here,
        "on": on,
        "newest": chains.parts.get(chains.links.newest(place, on), here),
        "replaced_by": [shaped(steps, one, one.new) for steps, one in chains.links.following(place)],
        "replaces": [shaped(steps, one, one.old) for steps, one in chains.links.preceding(place)],
    }


def resolve(*, numbers: Sequence[str], part_ids: Sequence[uuid.UUID], on: datetime.date) -> list[dict[str, Any]]:
    """For each number and part, in their order: the parts that have it, the newest on a day, and the chain to it.
    What no part is has none. Three queries for however many."""
    known = dict(Item.objects.filter(kind="part", pk__in=part_ids).values_list("id", "number")) if part_ids else {}
    asked = [(number, number) for number in numbers] + [(str(one), known.get(one, "")) for one in part_ids]
    written = [number for _, number in asked if number]
    found, chains = part_ids_by_normalised_number(written), chains_of(written)
    answers = []
    for name, number in asked:
        place = normalise_number(number)
        ids = found.get(place, [])
        path = chains.links.path_to_newest(place, on) if ids else ()
        own = {"part": ids[0], "number": number} if ids else None
        shown = [chains.parts.get(one, own) for one in path]
        answers.append({"asked": name, "parts": ids, "newest": shown[-1] if shown else None, "path": shown})
    return answers
