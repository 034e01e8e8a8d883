"""Limits of a characteristic as an author writes them, resolved for one pump and its kit.

A rule is ``{"kind": kind, ...}``:

* ``numbers``: ``lower`` and/or ``upper``, and ``unit`` where it is not the characteristic's own.
* ``iso-286``: ``class`` (a shaft like k5, a housing like H7) on a size in mm, ``nominal`` or ``nominal_from``.
* ``iso-10816-7``: ``category`` I or II and ``zone`` A, B or C, the worst that is accepted; by the model's rated power.
* ``seal-seat``: ``check`` (see `seal_installation.CHECKS`), with ``size`` or ``size_from`` where it depends on one.
* ``tightening``: ``thread``, ``property_class``, ``nut_factor``, ``share_of_proof`` and ``within_percent`` of the
  torque; ``screws`` adds the order.
* ``wear-ring``: ``diameter`` or ``diameter_from``, with ``state`` worn (where to renew, ``factor`` times ``as_new``) or
  new (the least of API 610), ``galls_or_hot``.
* ``bearing-clearance``: ``bearing`` and ``group`` on ``bore`` or ``bore_from``, before mounting.
* ``residual-unbalance``: ``grade`` and ``mass_kg``, of ``planes`` one or both; by the model's rated speed.
* ``alignment``: ``of`` offset, gap (on ``diameter``), spacer (of ``length``) or soft-foot, ``quality`` acceptable or
  excellent; by the model's rated speed.
* ``iso-9906``: ``grade``, ``of`` flow, head, power or efficiency, and what is ``guaranteed``.
* ``expression``: ``lower`` and/or ``upper`` as expressions such as ``1.5 * as_new_clearance``; ``unit`` as for numbers.
* no rule at all, or ``none``: the value is recorded and not judged.

``..._from`` names a variable of the pump or the kit that is a size in mm. ``{"iso-286": {...}}`` says the same.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assets.calculations.units import known_units
from assets.calculations.written_numbers import plain, signed
from jobs.calculations.alignment_tolerances import AlignmentUnknown
from jobs.calculations.limit_arguments import (
    BEARING_BORE,
    POWER,
    SPEED,
    LimitUnresolvable,
    ResolvedLimits,
    count,
    given,
    known_of_pump,
    number,
    size_of,
)
from jobs.calculations.limit_expressions import KEYS as EXPRESSION_KEYS
from jobs.calculations.limit_expressions import LimitExpressionError, bounds, check_bounds
from jobs.calculations.limits_and_fits import (
    ISO_286,
    ISO_492,
    SizeOutsideTable,
    UnknownToleranceClass,
    bearing_bore,
    deviations,
    fit,
    parse_class,
)
from jobs.calculations.limits_of_clearance import bearing_clearance, wear_ring
from jobs.calculations.limits_of_running import alignment, iso_9906, residual_unbalance
from jobs.calculations.printed_quantities import unit_name
from jobs.calculations.seal_installation import SIZED_BY, SealCheckUnknown, seal_check
from jobs.calculations.tightening import CAUTION, TighteningUnknown, cross_pattern, share_of_proof_reached, tightening
from jobs.calculations.tightening import SOURCE as TIGHTENING_SOURCE
from jobs.calculations.unbalance import UnbalanceUnknown
from jobs.calculations.vibration import SOURCE as VIBRATION_SOURCE
from jobs.calculations.vibration import UNIT, OutsideScope, warnings, zone_end
from jobs.calculations.wear_rings import RingUnknown


def resolve(rule: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    """The limits for a pump and kit of which ``data`` is known. Raises `LimitUnresolvable`."""
    kind, arguments = rule_of(rule)
    try:
        return _KINDS[kind].resolve(arguments, data)
    except _NOT_IN_TABLES as error:
        raise LimitUnresolvable(str(error)) from error


def check_rule(rule: Mapping[str, Any], variables: Collection[str] = ()) -> str:
    """Check a rule as its author writes it, all that can be judged before a pump is known; the unit of its limits.

    ``variables``: the names that ``..._from`` may use; none are checked where it is empty. Raises `LimitUnresolvable`.
    """
    kind, arguments = rule_of(rule)
    assumed: dict[str, Any] = {POWER: Decimal(15), SPEED: Decimal(1450)}
    for key in ("nominal_from", "size_from", "diameter_from", "bore_from"):
        name = arguments.get(key)
        if name is not None:
            if not isinstance(name, str) or not name.endswith("_mm") or (variables and name not in variables):
                sizes = ", ".join(sorted(one for one in variables if one.endswith("_mm"))) or "a size in mm"
                raise LimitUnresolvable(f"{key}: {name!r} is no size known here; known: {sizes}.")
            assumed[name] = Decimal(50)
    try:
        if kind == "expression":
            return check_bounds(arguments, variables)
        return _KINDS[kind].resolve(arguments, assumed).unit
    except _NOT_IN_TABLES as error:
        raise LimitUnresolvable(str(error)) from error


def rule_of(rule: Any) -> tuple[str, Mapping[str, Any]]:
    """(kind, arguments) of a rule however it is written. Raises `LimitUnresolvable`."""
    if not isinstance(rule, Mapping):
        raise LimitUnresolvable("Limits are a rule with a kind.")
    if not rule:
        return "none", {}
    if "kind" in rule:
        kind, arguments = rule["kind"], {key: value for key, value in rule.items() if key != "kind"}
    elif set(rule) <= _KINDS["numbers"].keys:
        kind, arguments = "numbers", dict(rule)
    else:
        kind, arguments = next(iter(rule.items()))
        if len(rule) > 1 or not isinstance(arguments, Mapping):
            raise LimitUnresolvable(f"Limits name one kind: {', '.join(_KINDS)}.")
    if not isinstance(kind, str) or kind not in _KINDS:
        raise LimitUnresolvable(f"{kind!r} is no kind of limits; known: {', '.join(_KINDS)}.")
    strange = sorted(str(key) for key in arguments if key not in _KINDS[kind].keys)
    if strange:
        known = ", ".join(sorted(_KINDS[kind].keys)) or "nothing more"
        raise LimitUnresolvable(f"{kind} does not know {', '.join(strange)}; it takes {known}.")
    return kind, arguments


def _none(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    return ResolvedLimits(None, None, "", "Recorded, not judged: no limits are set.", "")


def _numbers(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    lower = None if arguments.get("lower") is None else number("lower", arguments["lower"])
    upper = None if arguments.get("upper") is None else number("upper", arguments["upper"])
    unit = str(arguments.get("unit") or "")
    if lower is None and upper is None:
        raise LimitUnresolvable("numbers needs lower, upper or both.")
    if lower is not None and upper is not None and lower > upper:
        raise LimitUnresolvable(f"lower {plain(lower)} lies above upper {plain(upper)}.")
    if unit and unit not in known_units():
        raise LimitUnresolvable(f"unit: {unit!r} is not known here; known: {', '.join(known_units())}.")
    words = [f"at least {plain(lower)}"] if lower is not None else []
    words += [f"at most {plain(upper)}"] if upper is not None else []
    return ResolvedLimits(lower, upper, unit, f"A{' and '.join(words)[1:]} {unit_name(unit)}".rstrip() + ".", "")


def _iso_286(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    tolerance_class = str(given("iso-286", arguments, "class"))
    letter, _ = parse_class(tolerance_class)
    nominal = size_of("iso-286", arguments, data, "nominal", "nominal_from")
    found = deviations(nominal, tolerance_class)
    lower, upper = found.sizes(nominal)
    words = (
        f"{plain(nominal)} {tolerance_class}: {signed(found.upper_um)}/{signed(found.lower_um)} µm, "
        f"{plain(lower)} to {plain(upper)} mm."
    )
    source = ISO_286
    if letter.islower() and arguments.get("nominal_from") == BEARING_BORE:
        seat = fit(bearing_bore(nominal), found)
        words += (
            f" With the bearing's bore: {signed(seat.smallest_interference_um)} to "
            f"{signed(seat.largest_interference_um)} µm interference."
        )
        source = f"{ISO_286}; {ISO_492}"
    return ResolvedLimits(lower, upper, "mm", words, source)


def _iso_10816_7(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    category = str(given("iso-10816-7", arguments, "category"))
    zone = str(given("iso-10816-7", arguments, "zone"))
    power = known_of_pump(data, POWER)
    upper, levels = zone_end(zone, category, power), warnings(category, power)
    words = (
        f"Up to the end of zone {zone}, category {category}, {plain(power)} kW: {upper} {UNIT} r.m.s. "
        f"In service: alarm {levels.alarm} {UNIT}, trip {levels.trip} {UNIT}."
    )
    return ResolvedLimits(None, upper, UNIT, words, VIBRATION_SOURCE)


def _seal_seat(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    check = str(given("seal-seat", arguments, "check"))
    if check in SIZED_BY and SIZED_BY[check] is None and (arguments.keys() & {"size", "size_from"}):
        raise LimitUnresolvable(f"{check} does not depend on a size; leave it out.")
    size = size_of("seal-seat", arguments, data, "size", "size_from") if SIZED_BY.get(check) else None
    found = seal_check(check, size)
    return ResolvedLimits(None, found.upper, found.unit, found.sentence(), found.source)


def _tightening(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    thread = str(given("tightening", arguments, "thread"))
    property_class = str(given("tightening", arguments, "property_class"))
    nut_factor, share, within = (
        number(key, given("tightening", arguments, key)) for key in ("nut_factor", "share_of_proof", "within_percent")
    )
    if not Decimal(0) < within <= Decimal(50):
        raise LimitUnresolvable("within_percent: give how far the torque may lie off, up to 50 %.")
    found = tightening(thread=thread, property_class=property_class, nut_factor=nut_factor, share_of_proof=share)
    lower, upper = (found.torque_nm * (1 + sign * within / 100) for sign in (-1, 1))
    reached = share_of_proof_reached(
        torque_nm=upper, thread=thread, property_class=property_class, nut_factor=nut_factor
    )
    if reached > 1:
        raise LimitUnresolvable(f"The upper limit would load the screw to {reached:.0%} of its proof load.")
    passes = ", ".join(plain(one) for one in found.passes_nm)
    words = (
        f"{thread} {property_class} to {share:.0%} of the proof load, nut factor {plain(nut_factor)}: "
        f"{plain(found.torque_nm)} N·m within {plain(within)} %. Crosswise in passes of {passes} N·m, then once "
        f"round at the last. {CAUTION}"
    )
    if arguments.get("screws") is not None:
        words += f" Order: {'-'.join(str(one) for one in cross_pattern(count(arguments['screws'])))}."
    return ResolvedLimits(lower, upper, "N*m", words, TIGHTENING_SOURCE)


def _expression(arguments: Mapping[str, Any], data: Mapping[str, Any]) -> ResolvedLimits:
    found = bounds(arguments, data)
    return ResolvedLimits(found.lower, found.upper, found.unit, found.words, "")


@dataclass(frozen=True)
class _Kind:
    keys: frozenset[str]
    resolve: Callable[[Mapping[str, Any], Mapping[str, Any]], ResolvedLimits]


_NOT_IN_TABLES = (
    SizeOutsideTable,
    UnknownToleranceClass,
    OutsideScope,
    SealCheckUnknown,
    TighteningUnknown,
    RingUnknown,
    UnbalanceUnknown,
    AlignmentUnknown,
    LimitExpressionError,
)
_KINDS = {
    "numbers": _Kind(frozenset({"lower", "upper", "unit"}), _numbers),
    "iso-286": _Kind(frozenset({"class", "nominal", "nominal_from"}), _iso_286),
    "iso-10816-7": _Kind(frozenset({"category", "zone"}), _iso_10816_7),
    "seal-seat": _Kind(frozenset({"check", "size", "size_from"}), _seal_seat),
    "tightening": _Kind(
        frozenset({"thread", "property_class", "nut_factor", "share_of_proof", "within_percent", "screws"}), _tightening
    ),
    "wear-ring": _Kind(
        frozenset({"diameter", "diameter_from", "state", "factor", "as_new", "galls_or_hot"}), wear_ring
    ),
    "bearing-clearance": _Kind(frozenset({"bearing", "group", "bore", "bore_from"}), bearing_clearance),
    "residual-unbalance": _Kind(frozenset({"grade", "mass_kg", "planes"}), residual_unbalance),
    "alignment": _Kind(frozenset({"of", "quality", "diameter", "length"}), alignment),
    "iso-9906": _Kind(frozenset({"grade", "of", "guaranteed"}), iso_9906),
    "expression": _Kind(EXPRESSION_KEYS, _expression),
    "none": _Kind(frozenset(), _none),
}
KINDS = tuple(_KINDS)

__all__ = ["KINDS", "LimitUnresolvable", "ResolvedLimits", "check_rule", "resolve", "rule_of"]
