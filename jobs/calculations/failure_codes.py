"""Codes of open standards for what went wrong: failure modes and mechanisms (ISO 14224:2016), bearing damage (ISO
15243:2017).

Three questions, three fields: the mode says what was seen, the mechanism how it came about, and the cause, in words,
why. The words are our own. ``looked_up`` is False where a code or its meaning is a *value from memory*.
"""

from dataclasses import dataclass

ISO_14224_MODES = "ISO 14224:2016, failure modes of pumps"
ISO_14224_MECHANISMS = "ISO 14224:2016, table B.2"
ISO_15243 = "ISO 15243:2017, clause 5"


@dataclass(frozen=True)
class FailureCode:
    """One code: its table, what it means, where it stands, and whether that was looked up."""

    table: str
    code: str
    words: str
    source: str
    looked_up: bool = True
    group: str = ""


_MODES = (
    ("AIR", "an instrument reads abnormally"),
    ("BRD", "breakdown: it no longer runs"),
    ("ELP", "what is pumped leaks to the outside"),
    ("ELU", "oil, flushing or cooling liquid leaks to the outside"),
    ("ERO", "output goes up and down"),
    ("FTS", "does not start when asked to"),
    ("HIO", "output too high"),
    ("INL", "leaks inside"),
    ("LOO", "output too low"),
    ("NOI", "unusual noise"),
    ("OHE", "runs too hot"),
    ("OTH", "something else; say what in words"),
    ("PDE", "a watched value is outside its limits"),
    ("PLU", "plugged or choked"),
    ("SER", "small trouble in service"),
    ("STD", "damage to the structure: cracked, worn or broken"),
    ("STP", "does not stop when asked to"),
    ("UNK", "not known"),
    ("UST", "stops without being asked to"),
    ("VIB", "vibrates too much"),
)
_MECHANISMS = (
    ("1.0", "mechanical, in general"),
    ("1.1", "leakage"),
    ("1.2", "vibration"),
    ("1.3", "clearance or alignment"),
    ("1.4", "deformation"),
    ("1.5", "looseness"),
    ("1.6", "sticking"),
    ("2.0", "material, in general"),
    ("2.1", "cavitation"),
    ("2.2", "corrosion"),
    ("2.3", "erosion"),
    ("2.4", "wear"),
    ("2.5", "breakage"),
    ("2.6", "fatigue"),
    ("2.7", "overheating"),
    ("2.8", "burst"),
    ("3.0", "instrument, in general"),
    ("4.0", "electrical, in general"),
    ("5.0", "influence from outside, in general"),
    ("6.0", "something else, or not known"),
)
_BEARING_DAMAGE = (
    ("5.1", "rolling contact fatigue"),
    ("5.1.2", "fatigue that began beneath the surface"),
    ("5.1.3", "fatigue that began at the surface"),
    ("5.2", "wear"),
    ("5.2.2", "abrasive wear"),
    ("5.2.3", "adhesive wear, smearing"),
    ("5.3", "corrosion"),
    ("5.3.2", "corrosion by moisture"),
    ("5.3.3", "frictional corrosion: fretting, false brinelling"),
    ("5.4", "electrical erosion"),
    ("5.4.2", "erosion by excessive current or voltage"),
    ("5.4.3", "erosion by leakage current, fluting"),
    ("5.5", "plastic deformation"),
    ("5.5.2", "deformation by overload"),
    ("5.5.3", "dents from particles or handling"),
    ("5.6", "fracture and cracking"),
    ("5.6.2", "forced fracture"),
    ("5.6.3", "fatigue fracture"),
    ("5.6.4", "thermal cracking"),
)
# PLU is not in the list that was looked up; names of groups 4 to 6 and 2.8 are not either. Of ISO 15243 the six modes
# were looked up; the numbers of their sub-modes were not.
_MODES_FROM_MEMORY = frozenset({"PLU"})
_MECHANISMS_FROM_MEMORY = frozenset({"2.8", "4.0", "5.0", "6.0"})

FAILURE_MODES = {
    code: FailureCode("failure-mode", code, words, ISO_14224_MODES, code not in _MODES_FROM_MEMORY)
    for code, words in _MODES
}
FAILURE_MECHANISMS = {
    code: FailureCode(
        "failure-mechanism", code, words, ISO_14224_MECHANISMS, code not in _MECHANISMS_FROM_MEMORY, f"{code[0]}.0"
    )
    for code, words in _MECHANISMS
}
BEARING_DAMAGE = {
    code: FailureCode("bearing-damage", code, words, ISO_15243, len(code) == len("5.1"), code[:3])
    for code, words in _BEARING_DAMAGE
}
REPLACEMENT_REASONS = {
    "failed": "it no longer did what it is for",
    "worn": "beyond its limit, or too near to it to run until the next overhaul",
    "aged": "past its time, though it looks sound",
    "disturbed": "sound, but never fitted twice: gaskets, lock washers, O-rings taken out",
    "preventive": "sound; replaced because the pump was open",
}


# Whose part still did what it is for when it was taken out.
SOUND = frozenset(["aged", "disturbed", "preventive"])


def all_codes() -> list[FailureCode]:
    """Every code of the three tables, in the order of the tables and of the codes."""
    return [*FAILURE_MODES.values(), *FAILURE_MECHANISMS.values(), *BEARING_DAMAGE.values()]


def condition_words(condition: str) -> str:
    """How a removed part was, in words with its codes behind them; what holds no code of ours stays as it is.

    >>> condition_words("VIB/2.6")
    'vibrates too much, fatigue (VIB/2.6)'
    """
    tables = (FAILURE_MODES, FAILURE_MECHANISMS, BEARING_DAMAGE)
    found = [next((table[code].words for table in tables if code in table), "") for code in condition.split("/")]
    return f"{', '.join(dict.fromkeys(found))} ({condition})" if all(found) else condition


def is_bearing(role: str) -> bool:
    """Whether a position takes a rolling bearing, so that ISO 15243 applies."""
    return role.startswith("bearing")


def removed_condition(mode: str, mechanism: str = "", bearing_damage: str = "") -> str:
    """How a removed part was, as one text of at most 20 characters: mode, mechanism, damage of a bearing, by slashes.

    >>> removed_condition("VIB", "2.6", "5.1.3")
    'VIB/2.6/5.1.3'
    """
    return "/".join(one for one in (mode, mechanism, bearing_damage) if one)
