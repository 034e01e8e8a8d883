"""The material key of EN 12756:2000 in words: five letters whose meaning goes by their place (value from memory)."""

from dataclasses import dataclass

PLACES = ("rotating face", "stationary face", "secondary seals", "spring", "metal parts")
_METAL = {
    "D": "carbon steel",
    "E": "chromium steel",
    "F": "chromium-nickel steel",
    "G": "chromium-nickel-molybdenum steel",
    "M": "nickel-base alloy",
    "N": "bronze",
}
FACE_WORDS = {
    "A": "carbon, antimony-impregnated",
    "B": "carbon, resin-impregnated",
    "C": "other carbon",
    "Q": "silicon carbide",
    "U": "tungsten carbide",
    "J": "other carbide",
    "V": "aluminium oxide",
    "W": "chromium oxide",
    "X": "other metal oxide",
    **_METAL,
    "P": "grey cast iron",
    "R": "alloyed cast iron",
    "S": "cast chromium steel",
    "Y": "filled PTFE",
    "Z": "other plastic",
}
METAL_WORDS = {**_METAL, "T": "other metal"}
SECONDARY_WORDS = {
    "P": "NBR",
    "E": "EPDM",
    "V": "FKM",
    "K": "FFKM",
    "N": "CR",
    "S": "VMQ",
    "B": "IIR",
    "X": "other elastomer",
    "M": "elastomer wrapped in PTFE",
    "T": "PTFE",
    "G": "graphite foil",
    "Y": "other material",
}
# A digit after a letter narrows it; those not here are kept as written.
NARROWED = {
    "face": {
        "Q1": "silicon carbide, sintered",
        "Q2": "silicon carbide, reaction-bonded",
        "U1": "tungsten carbide, cobalt binder",
        "U2": "tungsten carbide, nickel binder",
    },
    "secondary seals": {"X4": "HNBR"},
}
# ISO 1629 code of the elastomer that a letter for secondary seals brings into contact with the liquid; a wrapped one
# is kept from it.
ELASTOMER_OF = {"P": "NBR", "E": "EPDM", "V": "FKM", "K": "FFKM", "N": "CR", "S": "VMQ", "B": "IIR", "X4": "HNBR"}


@dataclass(frozen=True)
class Meaning:
    """What a letter says in its place; ``narrowed`` is false where its digit is not decoded here."""

    words: str
    narrowed: bool


def known_letters(place: int) -> dict[str, str]:
    """Letters that may stand in a place (0 to 4) with their words."""
    return FACE_WORDS if place < 2 else SECONDARY_WORDS if place == 2 else METAL_WORDS


def meaning(place: int, code: str) -> Meaning:
    """What a letter with or without its digit says in a place (0 to 4)."""
    narrowed = NARROWED.get("face" if place < 2 else PLACES[place], {})
    if code in narrowed:
        return Meaning(narrowed[code], True)
    return Meaning(known_letters(place)[code[0]], len(code) == 1)
