"""What each rule asks for besides readings alike: groups of readings, and what must be known of the set-up.

A characteristic carries the name of its rule, how many readings (of each group), and its *set-up*: values that its
author knows beforehand. What the set-up leaves open is given with the readings; what it fixes is not given again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from jobs.calculations.readings import MOST_READINGS, RULES, ReadingsUnusable, in_order
from jobs.calculations.reference_temperature import (
    DIFFERENCE_HALF_WIDTH_K,
    EXPANSION_HALF_WIDTH_PER_K,
    EXPANSION_PER_K,
    TEMPERATURE_HALF_WIDTH_K,
)
from jobs.calculations.seal_installation import HELIUM_WAVELENGTH_UM
from jobs.calculations.shaft_alignment import CLOSURE_TOLERANCE_MM, PLACES


class SetUpUnusable(ValueError):
    """The set-up, or what was given with the readings, does not suit the rule. ``place`` is the name of the value."""

    def __init__(self, sentence: str, place: str = "") -> None:
        super().__init__(sentence)
        self.place = place


@dataclass(frozen=True)
class Group:
    """Readings taken together; ``name`` is empty where they are sent as a plain list."""

    name: str
    words: str
    places: tuple[str, ...] = ()
    instrument: int = 1


@dataclass(frozen=True)
class Given:
    """A value that is known or measured once, besides the readings; its unit ends its name."""

    name: str
    words: str
    default: str | None = None
    choices: tuple[str, ...] = ()
    above: Decimal | None = None
    author_only: bool = False
    optional: bool = False


@dataclass(frozen=True)
class Rule:
    """A way from readings to a value.

    ``takes`` is what is read: the characteristic's own unit, a ``length`` or a ``count`` of bands; ``gives`` what comes
    out: the characteristic's own unit, a length, or what ``judged`` chooses. ``sizes``: readings are sizes, so that one
    far from its fellows was read in another unit; ``indicator``: readings tell a movement, wherever zero stands.
    """

    words: str
    groups: tuple[Group, ...]
    given: tuple[Given, ...] = ()
    takes: str = "own"
    gives: str = "own"
    least: int = 1
    sizes: bool = False
    indicator: bool = False


_PLAIN = (Group("", "readings"),)
_ABSOLUTE_ZERO_C = Decimal("-273.15")
_HALF_WIDTHS = (
    Given("temperature_half_width_k", "How far the part's temperature may be off", str(TEMPERATURE_HALF_WIDTH_K)),
    Given(
        "temperature_difference_half_width_k",
        "How far part and instrument may differ unnoticed",
        str(DIFFERENCE_HALF_WIDTH_K),
    ),
    Given(
        "expansion_half_width_per_k",
        "How far the difference of the coefficients may be off",
        str(EXPANSION_HALF_WIDTH_PER_K),
    ),
)


def _warmth_of(prefix: str, what: str) -> tuple[Given, ...]:
    return (
        Given(f"{prefix}temperature_c", f"Temperature of {what}", above=_ABSOLUTE_ZERO_C),
        Given(
            f"{prefix}instrument_temperature_c",
            f"Temperature of the instrument at {what}; as warm as the part where it is not given",
            above=_ABSOLUTE_ZERO_C,
            optional=True,
        ),
        Given(f"{prefix}material", f"Material of {what}", "steel", tuple(EXPANSION_PER_K)),
        Given(f"{prefix}expansion_per_k", f"Coefficient of {what}, before that of its material", optional=True),
        Given(f"{prefix}instrument_expansion_per_k", "Coefficient of the instrument", str(EXPANSION_PER_K["steel"])),
    )


_ZERO, _LARGEST = Decimal(0), Decimal(10) ** 9
_ALIGNMENT = (
    Given("front_foot_mm", "From x = 0 to the front feet of the movable machine", optional=True),
    Given("rear_foot_mm", "From x = 0 to its rear feet", optional=True),
    Given("closure_tolerance_mm", "How far top + bottom and left + right may lie apart", str(CLOSURE_TOLERANCE_MM)),
    Given("sag_half_width_mm", "How far the sag may be off; half a division of a dial of 0.01 mm", "0.005"),
    Given("geometry_half_width_mm", "How far distances and the diameter swept may be off", "1"),
)
JUDGED = (
    "offset", "angularity", "vertical-offset", "horizontal-offset", "vertical-angularity", "horizontal-angularity",
)  # fmt: skip
_JUDGED = Given("judged", "Which result is judged", "offset", JUDGED, author_only=True)

_ALIKE = {
    "single": Rule("The one reading.", _PLAIN, sizes=True),
    "mean": Rule("The mean of the readings.", _PLAIN, sizes=True),
    "max": Rule("The largest reading.", _PLAIN, sizes=True),
    "min": Rule("The smallest reading.", _PLAIN, sizes=True),
    "range": Rule("The largest less the smallest reading.", _PLAIN, least=2),
    "total-indicator-reading": Rule("The full swing of the indicator over one turn.", _PLAIN, indicator=True),
    "eccentricity": Rule("Half of the full swing of the indicator.", _PLAIN, indicator=True),
    "ovality": Rule("The largest less the smallest diameter round one section.", _PLAIN, least=2, sizes=True),
}
RULES_OF_EVALUATION: dict[str, Rule] = {
    **_ALIKE,
    "light-bands": Rule(
        "The most bands counted on an optical flat, each half a wavelength.",
        (Group("", "bands counted"),),
        (
            Given("wavelength_um", "Wavelength of the light; helium's", str(HELIUM_WAVELENGTH_UM), above=_ZERO),
        ),
        takes="count",
        gives="length",
    ),
    "diameter": Rule(
        "The mean of two-point diameters, at 20 °C.",
        _PLAIN,
        (*_warmth_of("", "the part"), *_HALF_WIDTHS),
        takes="length",
        gives="length",
        sizes=True,
    ),
    "diametral-clearance": Rule(
        "The mean bore less the mean shaft, each at 20 °C.",
        (Group("bore", "diameters of the bore"), Group("shaft", "diameters of the shaft", instrument=2)),
        (*_warmth_of("bore_", "the bore"), *_warmth_of("shaft_", "the shaft"), *_HALF_WIDTHS),
        takes="length",
        gives="length",
        sizes=True,
    ),
    "taper": Rule(
        "The mean diameter at one end less that at the other, without its sign.",
        (Group("first_end", "diameters at one end"), Group("second_end", "diameters at the other end")),
        takes="length",
        gives="length",
        sizes=True,
    ),
    "rim-and-face": Rule(
        "Offset and angularity of the movable shaft from a dial on a rim and one on a face.",
        (Group("rim", "dial on the rim", PLACES), Group("face", "dial on the face", PLACES, 2)),
        (
            _JUDGED,
            Given("dial_on", "Whose hub the rim's dial touches", "movable", ("movable", "stationary")),
            Given("face_diameter_mm", "Diameter that the face's dial sweeps", above=_ZERO),
            Given("sag_mm", "Dial at the bottom on a stiff bar, zeroed at the top; 0 where there is none"),
            Given("face_sag_mm", "The same of the face's dial", "0"),
            Given("coupling_centre_mm", "From the rim's plane to where the offset is judged", "0"),
            *_ALIGNMENT,
        ),
        takes="length",
        gives="judged",
        indicator=True,
    ),
    "reverse-indicator": Rule(
        "Offset and angularity of the movable shaft from a dial on each hub.",
        (
            Group("stationary_hub", "dial on the stationary hub", PLACES),
            Group("movable_hub", "dial on the movable hub", PLACES, 2),
        ),
        (
            _JUDGED,
            Given("plane_distance_mm", "Between the planes that the dials touch", above=_ZERO),
            Given("sag_mm", "Dial at the bottom on a stiff bar, zeroed at the top; 0 where there is none"),
            Given("movable_hub_sag_mm", "The same of the dial on the movable hub; as the other", optional=True),
            Given("coupling_centre_mm", "From the stationary plane; half way where it is not given", optional=True),
            *_ALIGNMENT,
        ),
        takes="length",
        gives="judged",
        indicator=True,
    ),
}  # fmt: skip
assert tuple(RULES_OF_EVALUATION) == RULES  # noqa: S101 - one list in two files
_READING_UNITS = {"length": "mm", "count": "piece"}


def rule_named(name: str) -> Rule:
    """Raises `SetUpUnusable` for a rule that is not known."""
    if name not in RULES_OF_EVALUATION:
        raise SetUpUnusable(f"{name!r} is no rule for readings; known: {', '.join(RULES)}.", "rule")
    return RULES_OF_EVALUATION[name]


def reads_with_two(rule: str) -> bool:
    """Whether a second instrument may take part."""
    return any(one.instrument > 1 for one in rule_named(rule).groups)


def result_unit(rule: str, set_up: Mapping[str, Any]) -> str:
    """The unit that a rule works in where it is not the characteristic's own, which is then empty."""
    gives = rule_named(rule).gives
    if gives == "judged":
        return "mm/100mm" if "angularity" in str(set_up.get("judged") or "offset") else "mm"
    if gives == "length":
        return "um" if rule == "light-bands" else "mm"
    return ""


def reading_unit(rule: str, unit: str) -> str:
    """The unit in which an app best asks for readings, given the characteristic's."""
    return _READING_UNITS.get(rule_named(rule).takes, unit)


def places_of(group: Group, set_up: Mapping[str, Any]) -> tuple[str, ...]:
    """Names of the places to read, in order; none where readings are only counted."""
    return group.places or tuple(str(one) for one in set_up.get("places") or ())


def arranged(rule: str, count: int, set_up: Mapping[str, Any], raw: Any) -> dict[str, tuple[Decimal, ...]]:
    """Readings by group, each in the order asked for. Raises `ReadingsUnusable` naming the place."""
    groups = rule_named(rule).groups
    if len(groups) == 1:
        group = groups[0]
        return {group.name: in_order(raw, places_of(group, set_up), count)}
    names = [group.name for group in groups]
    if not isinstance(raw, Mapping):
        raise ReadingsUnusable(f"Send readings by name: {', '.join(names)}.")
    strange = [str(name)[:40] for name in raw if name not in names]
    if strange:
        raise ReadingsUnusable(f"{strange[0]!r} is not read here; {', '.join(names)} are.")
    found = {}
    for group in groups:
        if group.name not in raw:
            raise ReadingsUnusable(f"The readings of {group.name} are missing.", f"/{group.name}")
        places = places_of(group, set_up)
        found[group.name] = in_order(raw[group.name], places, len(places) or count, f"/{group.name}")
    return found


def completed(rule: str, set_up: Mapping[str, Any], sent: Mapping[str, Any]) -> dict[str, Decimal | str]:
    """What the set-up fixes, what was sent with the readings, and defaults for the rest.

    Raises `SetUpUnusable` for a value that is not asked for, is fixed already, is missing or makes no sense.
    """
    asked = {one.name: one for one in rule_named(rule).given}
    for name in sent:
        if name not in asked or asked[name].author_only:
            known = ", ".join(one for one in asked if one not in set_up and not asked[one].author_only)
            raise SetUpUnusable(
                f"{str(name)[:40]!r} is not asked for here; {known or 'nothing'} may be given.", str(name)[:60]
            )
        if name in set_up:
            raise SetUpUnusable(f"{name} is fixed as {set_up[name]}; leave it out.", name)
    found: dict[str, Decimal | str] = {}
    for name, one in asked.items():
        value = set_up.get(name, sent.get(name, one.default))
        if value is not None:
            found[name] = _checked(one, value)
        elif not one.optional:
            raise SetUpUnusable(f"{name} is needed: {one.words[0].lower()}{one.words[1:]}.", name)
    return found


def check_set_up(rule: str, readings: int, set_up: Mapping[str, Any]) -> None:
    """What can be judged of a characteristic before anything is measured. Raises `SetUpUnusable`."""
    found = rule_named(rule)
    asked = {one.name: one for one in found.given}
    for name, value in set_up.items():
        if name == "places":
            _check_places(found, readings, value)
        elif name in asked:
            _checked(asked[name], value)
        else:
            known = ", ".join([*asked, *([] if found.groups[0].places else ["places"])])
            raise SetUpUnusable(f"{str(name)[:40]!r} is not known to the rule {rule}; known: {known}.", str(name)[:60])
    if readings < found.least:
        raise SetUpUnusable(f"The rule {rule} takes at least {found.least} readings.", "readings")
    if rule == "single" and readings != 1:
        raise SetUpUnusable("The rule single takes one reading.", "readings")
    if readings > MOST_READINGS:
        raise SetUpUnusable(f"At most {MOST_READINGS} readings.", "readings")
    fixed = found.groups[0].places
    if fixed and readings not in (1, len(fixed)):
        raise SetUpUnusable(
            f"The rule {rule} reads {', '.join(fixed)} of each dial: {len(fixed)} readings.", "readings"
        )


def asked_of(rule: str, readings: int, set_up: Mapping[str, Any], unit: str) -> dict[str, Any]:
    """What an app asks the fitter for: groups of readings in their order, then values; JSON-safe."""
    found = rule_named(rule)
    groups = []
    for group in found.groups:
        places = places_of(group, set_up)
        groups.append(
            {
                "name": group.name or None,
                "words": group.words,
                "count": len(places) or readings,
                "places": list(places),
                "instrument": group.instrument,
            }
        )
    given = [
        {
            "name": one.name,
            "words": one.words,
            "needed": one.default is None and not one.optional,
            "default": one.default,
            "choices": list(one.choices),
        }
        for one in found.given
        if one.name not in set_up and not one.author_only
    ]
    return {"words": found.words, "unit": reading_unit(rule, unit), "groups": groups, "given": given}


def _checked(one: Given, value: Any) -> Decimal | str:
    if one.choices:
        if value not in one.choices:
            raise SetUpUnusable(f"{one.name}: {str(value)[:40]!r} is none of {', '.join(one.choices)}.", one.name)
        return str(value)
    try:
        number = Decimal(str(value))
    except InvalidOperation as error:
        raise SetUpUnusable(f"{one.name}: {str(value)[:40]!r} is no number.", one.name) from error
    if isinstance(value, bool) or not number.is_finite() or abs(number) > _LARGEST:
        raise SetUpUnusable(f"{one.name}: {str(value)[:40]!r} is no number that can be used.", one.name)
    if one.above is not None and number <= one.above:
        raise SetUpUnusable(f"{one.name} must be above {one.above}.", one.name)
    if ("half_width" in one.name or "tolerance" in one.name) and number < 0:
        raise SetUpUnusable(f"{one.name} must not be below zero.", one.name)
    return number


def _check_places(rule: Rule, readings: int, value: Any) -> None:
    if rule.groups[0].places:
        raise SetUpUnusable(f"The places are fixed: {', '.join(rule.groups[0].places)}.", "places")
    sound = isinstance(value, Sequence) and not isinstance(value, str) and all(isinstance(one, str) for one in value)
    if not sound or len(set(value)) != len(value) or not all(one.strip() for one in value):
        raise SetUpUnusable("places is a list of names, each once.", "places")
    if len(value) != readings:
        raise SetUpUnusable(f"{len(value)} places are named and {readings} readings asked for.", "places")
