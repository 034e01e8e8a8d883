"""Limits of clearances: wear rings, and bearings before they are mounted."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from assets.calculations.bearing_clearances import CLASSES, GROUPS, clearance_um
from assets.calculations.bearing_dimensions import CYLINDRICAL, DEEP_GROOVE
from assets.calculations.written_numbers import plain
from jobs.calculations.limit_arguments import LimitUnresolvable, ResolvedLimits, given, one_of, positive, size_of
from jobs.calculations.wear_rings import EDITION, PLACE, STANDARD, USUAL_FACTOR, least_clearance, ring_clearance

BEARINGS = {"deep-groove-ball": DEEP_GROOVE, "cylindrical-roller": CYLINDRICAL}
ISO_5753 = "ISO 5753-1:2009 (value from memory)"
API_610 = f"{STANDARD}:{EDITION}, {PLACE}"
PRACTICE = "common practice, no source"
_STATES = ("worn", "new")


def wear_ring(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    """Where a worn ring is renewed, or the least clearance of a new one; diametral, mm. Raises `LimitUnresolvable`."""
    diameter = size_of("wear-ring", arguments, data, "diameter", "diameter_from")
    galls = arguments.get("galls_or_hot", False)
    if not isinstance(galls, bool):
        raise LimitUnresolvable(f"galls_or_hot: {galls!r} is neither true nor false.")
    least = least_clearance(diameter, galls_or_hot=galls)
    if one_of("state", arguments.get("state", "worn"), _STATES) == "new":
        if arguments.keys() & {"factor", "as_new"}:
            raise LimitUnresolvable("factor and as_new are for a worn ring; leave them out.")
        words = f"Ring of {plain(diameter)} mm, new: at least {plain(least)} mm of diametral clearance."
        return ResolvedLimits(least, None, "mm", words, API_610)
    factor = positive("factor", arguments.get("factor", USUAL_FACTOR))
    if not 1 < factor <= 3:
        raise LimitUnresolvable("factor: a ring is renewed at more than 1 and up to 3 times its clearance as new.")
    own = None if arguments.get("as_new") is None else positive("as_new", arguments["as_new"])
    found = ring_clearance(diameter_mm=diameter, as_new_mm=own, factor=factor, galls_or_hot=galls)
    words = (
        f"Ring of {plain(diameter)} mm: renew above {plain(found.renew_above_mm)} mm of diametral clearance, "
        f"{plain(factor)} times {plain(found.as_new_mm)} mm "
        f"({'the least as new of the standard' if own is None else 'its own clearance as new'})."
    )
    return ResolvedLimits(
        None, found.renew_above_mm, "mm", words, f"{API_610}; {PRACTICE}" if own is None else PRACTICE
    )


def bearing_clearance(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    """Radial internal clearance before mounting, in um. Raises `LimitUnresolvable`."""
    kind = one_of("bearing", given("bearing-clearance", arguments, "bearing"), BEARINGS)
    group = one_of("group", arguments.get("group", "CN"), CLASSES)
    bore = size_of("bearing-clearance", arguments, data, "bore", "bore_from")
    found = clearance_um(BEARINGS[kind], bore, group)
    if found is None:
        raise LimitUnresolvable(f"The table holds no {BEARINGS[kind]} of {plain(bore)} mm.")
    least, greatest = (Decimal(one) for one in found)
    words = (
        f"{GROUPS[group][0].upper()}{GROUPS[group][1:]}, bore {plain(bore)} mm: {least} to {greatest} µm, not mounted."
    )
    return ResolvedLimits(least, greatest, "um", words, ISO_5753)
