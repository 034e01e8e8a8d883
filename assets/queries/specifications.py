"""What specifications say, written or stored. No database is asked."""

import dataclasses
from collections.abc import Mapping
from typing import Any

from assets.calculations.part_specifications import SpecificationError, facts_of, read_with_notes
from assets.refusals import SpecificationUnreadable


def read_written(category: str, specification: str) -> dict[str, Any]:
    """A written specification, decoded. Raises `SpecificationUnreadable` naming the field."""
    try:
        reading = read_with_notes(category, specification)
    except SpecificationError as error:
        raise unreadable(error) from error
    read = reading.specification
    return {
        "category": category,
        "designation": read.designation(),
        "specification": read.to_json(),
        "properties": [dataclasses.asdict(one) for one in read.properties()],
        "elastomers": list(read.elastomers()),
        "faces": list(read.faces()),
        "notes": list(reading.notes),
    }


def stored_facts(stored: Mapping[str, Any] | None) -> dict[str, Any]:
    """Designation and properties of a stored specification; empty where no more than a category is known, or where it
    was not stored by this service."""
    try:
        designation, properties = facts_of(stored)
    except SpecificationError:
        designation, properties = "", ()
    return {"designation": designation, "properties": [dataclasses.asdict(one) for one in properties]}


def unreadable(error: SpecificationError) -> SpecificationUnreadable:
    """The refusal of a specification that cannot be read, with its remedy."""
    pointer = "#/category" if error.field == "category" else "#/specification"
    return SpecificationUnreadable(error.what, remedy=error.remedy, pointer=pointer)
