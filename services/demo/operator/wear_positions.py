"""What an overhaul of each model renews, from a table of sizes for each configuration.

Sizes follow the standards that the specifications name; which size sits in which model is invented.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from services.demo.operator.pump_models import MODELS, Model

SEAL_LETTER = {"EPDM": "E", "NBR": "P", "FKM": "V"}
# The step in the wear ring of this model: later pumps have the wider one.
WIDER_RING_MODEL, LAST_NARROW, FIRST_WIDE = "skerra-c-40-160", "SD-40119", "SD-40120"


@dataclass(frozen=True)
class Position:
    """One wear position; ``elastomer`` is the as-built variant it belongs to, empty where it is the same in all."""

    model: Model
    role: str
    category: str
    specification: str
    quantity: int = 1
    mandatory: bool = True
    elastomer: str = ""
    serial_from: str = ""
    serial_to: str = ""


# casing O-ring, impeller O-ring, casing wear ring, drain washer, lock washer, impeller key, faces of the seal
CLOSE_COUPLED = {
    "C32": ("151.99x3.53", "12.42x1.78", "62x74x10 BRONZE", "18x14x1.5 COPPER", "M12", "5x5x20", "Q1 B"),
    "C40": ("164.69x3.53", "15.6x1.78", "70x82x10 BRONZE", "18x14x1.5 COPPER", "M14", "6x6x22", "Q1 B"),
    "C50": ("202.79x3.53", "18.72x2.62", "82x96x12 BRONZE", "22x17x1.5 COPPER", "M16", "6x6x25", "Q1 B"),
    "C65": ("171.04x3.53", "21.95x1.78", "96x110x12 BRONZE", "22x17x1.5 COPPER", "M18", "8x7x28", "Q1 B"),
    "T32": ("126.59x3.53", "10.82x1.78", "52x62x9 BRONZE", "14x10x1.5 COPPER", "M10", "5x5x16", "Q1 B"),
}

# bearings at drive end and non-drive end, casing and sleeve O-ring, sleeve, cover gasket, casing wear ring, circlip,
# lip seals (empty where a deflector alone keeps the housing clean), deflector, lock washer, drain washer, faces
PULL_OUT = {
    "P65": ("6306/C3", "6305/C3", "209.14x3.53", "26.57x3.53", "28x33x60 CRNIMO", "95x74x0.5 FIBRE",
            "84x98x12 BRONZE", "shaft 30x1.5", "30x47x7", "29 mm", "M20", "24x18x1.5 COPPER", "Q1 B"),
    "P80": ("6307/C3", "6306/C3", "253.59x3.53", "29.74x3.53", "32x38x66 CRNIMO", "105x82x0.5 FIBRE",
            "92x106x14 BRONZE", "shaft 35x1.5", "35x52x7", "34 mm", "M22", "24x18x1.5 COPPER", "Q1 B"),
    "L100": ("6308/C3", "6307/C3", "215.49x3.53", "34.52x3.53", "36x43x72 CRNIMO", "118x92x0.5 GRAPHITE",
             "112x128x15 BRONZE", "shaft 40x1.75", "", "39 mm", "M24", "27x21x1.5 COPPER", "Q1 Q1"),
    "L125": ("6310/C3", "6309/C3", "266.29x3.53", "40.87x3.53", "42x48x78 CRNIMO", "138x112x0.5 GRAPHITE",
             "128x146x16 BRONZE", "shaft 50x2", "", "49 mm", "M27", "32x26x2 COPPER", "Q1 Q1"),
}  # fmt: skip

# casing O-ring, casing wear ring, drain washer, lock washer, coupling spider, faces of the seal
IN_LINE = {
    "K50": ("158.34x3.53", "76x88x10 BRONZE", "20x16x1.5 COPPER", "M13", "spider 65", "Q1 Q1"),
    "K80": ("196.44x3.53", "104x118x12 BRONZE", "20x16x1.5 COPPER", "M15", "spider 80", "Q1 Q1"),
    "K100": ("247.24x3.53", "126x142x14 BRONZE", "26x20x1.5 COPPER", "M17", "spider 95", "Q1 Q1"),
}

# bearings, sleeve, sleeve O-ring, packing, lantern ring, cover gasket, gland gasket, casing and impeller wear ring,
# lip seals, circlip, deflector
BETWEEN = {
    "G150": ("6311/C3", "6311/C3", "50x60x110 CRNIMO", "47.22x3.53", "10 PTFE", "lantern ring 60x80x14",
             "352x318x1 FIBRE", "102x84x0.5 FIBRE", "188x206x18 BRONZE", "172x188x18 BRONZE", "55x72x8", "shaft 55x2",
             "54 mm"),
    "G200": ("6313/C3", "6313/C3", "68x75x130 CRNIMO", "63.09x3.53", "12 PTFE", "lantern ring 75x99x16",
             "438x402x1 FIBRE", "126x104x0.5 FIBRE", "234x256x22 BRONZE", "216x234x22 BRONZE", "65x85x10",
             "shaft 65x2.5", "64 mm"),
}  # fmt: skip


def positions() -> tuple[Position, ...]:
    """The positions of all models, model by model."""
    found: list[Position] = []
    for model in MODELS:
        if model.short in CLOSE_COUPLED:
            found.extend(_close_coupled(model))
        elif model.short in PULL_OUT:
            found.extend(_pull_out(model))
        elif model.short in IN_LINE:
            found.extend(_in_line(model))
        else:
            found.extend(_between_bearings(model))
    return tuple(found)


def _rubber(model: Model, role: str, size: str, quantity: int = 1) -> Iterator[Position]:
    for one in model.elastomers:
        yield Position(model, role, "o-ring", f"{size} {one} 70", quantity, elastomer=one)


def _seal(model: Model, faces: str) -> Iterator[Position]:
    for one in model.elastomers:
        text = f"NU{model.seal_mm:03d}S0 {faces} {SEAL_LETTER[one]} G G"
        yield Position(model, "shaft-seal", "mechanical-seal", text, elastomer=one)


def _washer(model: Model, thread: str) -> Position:
    return Position(model, "lock-washer", "other", f"lock washer {thread} {model.series}")


def _close_coupled(model: Model) -> Iterator[Position]:
    casing, impeller, ring, drain, lock, key, faces = CLOSE_COUPLED[model.short]
    yield from _seal(model, faces)
    yield from _rubber(model, "casing-o-ring", casing)
    yield from _rubber(model, "impeller-o-ring", impeller)
    if model.code == WIDER_RING_MODEL:
        yield Position(model, "wear-ring-casing", "wear-ring", ring, serial_to=LAST_NARROW)
        yield Position(model, "wear-ring-casing", "wear-ring", "70x82x12 BRONZE", serial_from=FIRST_WIDE)
    else:
        yield Position(model, "wear-ring-casing", "wear-ring", ring)
    yield _washer(model, lock)
    yield Position(model, "drain-plug-washer", "flat-gasket", drain, mandatory=False)
    yield Position(model, "impeller-key", "key", key, mandatory=False)
    yield Position(model, "impeller-nut", "other", f"impeller nut {lock} {model.series}", mandatory=False)


def _pull_out(model: Model) -> Iterator[Position]:
    (de, nde, casing, sleeve_ring, sleeve, gasket, ring, circlip, lip, deflector, lock, drain, faces) = PULL_OUT[
        model.short
    ]
    yield from _seal(model, faces)
    yield Position(model, "shaft-sleeve", "sleeve", sleeve)
    yield from _rubber(model, "sleeve-o-ring", sleeve_ring)
    yield Position(model, "bearing-de", "rolling-bearing", de)
    yield Position(model, "bearing-nde", "rolling-bearing", nde)
    yield from _rubber(model, "casing-o-ring", casing)
    yield Position(model, "cover-gasket", "flat-gasket", gasket)
    yield Position(model, "wear-ring-casing", "wear-ring", ring)
    yield Position(model, "circlip", "circlip", circlip)
    if lip:
        yield Position(model, "lip-seal-de", "lip-seal", f"{lip} NBR")
        yield Position(model, "lip-seal-nde", "lip-seal", f"{lip} NBR")
    yield Position(model, "deflector", "other", f"deflector {deflector} {model.series}")
    yield _washer(model, lock)
    yield Position(model, "drain-plug-washer", "flat-gasket", drain, mandatory=False)
    yield Position(model, "impeller-nut", "other", f"impeller nut {lock} {model.series}", mandatory=False)


def _in_line(model: Model) -> Iterator[Position]:
    casing, ring, drain, lock, spider, faces = IN_LINE[model.short]
    yield from _seal(model, faces)
    yield from _rubber(model, "casing-o-ring", casing)
    yield Position(model, "wear-ring-casing", "wear-ring", ring)
    yield _washer(model, lock)
    yield Position(model, "drain-plug-washer", "flat-gasket", drain, mandatory=False)
    yield Position(model, "coupling-spider", "other", f"coupling {spider} {model.series}", mandatory=False)


def _between_bearings(model: Model) -> Iterator[Position]:
    (de, nde, sleeve, sleeve_ring, packing, lantern, cover, gland, casing, impeller, lip, circlip, deflector) = BETWEEN[
        model.short
    ]
    yield Position(model, "packing", "packing", packing, 10)
    yield Position(model, "lantern-ring", "other", lantern, 2)
    yield Position(model, "shaft-sleeve", "sleeve", sleeve, 2)
    yield from _rubber(model, "sleeve-o-ring", sleeve_ring, 2)
    yield Position(model, "bearing-de", "rolling-bearing", de)
    yield Position(model, "bearing-nde", "rolling-bearing", nde)
    yield Position(model, "lip-seal-de", "lip-seal", f"{lip} NBR")
    yield Position(model, "lip-seal-nde", "lip-seal", f"{lip} NBR")
    yield Position(model, "cover-gasket", "flat-gasket", cover)
    yield Position(model, "gland-gasket", "flat-gasket", gland, 2)
    yield Position(model, "wear-ring-casing", "wear-ring", casing, 2)
    yield Position(model, "wear-ring-impeller", "wear-ring", impeller, 2)
    yield Position(model, "circlip", "circlip", circlip, 2)
    yield Position(model, "deflector", "other", f"deflector {deflector} {model.series}", 2)
