"""Whether an O-ring suits its groove: stretch, squeeze and how full the groove is.

Geometry, with the loss of section by stretching after ISO 3601-2 (value from memory). The bands of what is usual are
common practice, no source. Sizes in millimetres, shares in per cent.
"""

from dataclasses import dataclass
from decimal import Decimal

PI = Decimal("3.14159265358979323846")
SERVICES = ("static-face", "static-radial", "reciprocating", "rotary")
GOOD, WATCH, STOP = "good", "watch", "stop"
_HUNDRED = Decimal(100)
# Squeeze in per cent: what is usual, and what is borne at all (common practice, no source).
_SQUEEZE = {
    "static-face": ((20, 30), (10, 35)),
    "static-radial": ((15, 25), (5, 30)),
    "reciprocating": ((8, 20), (5, 25)),
    "rotary": ((0, 8), (0, 10)),
}
_STRETCH_WATCH, _STRETCH_STOP = Decimal(5), Decimal(10)
_FILL_LEAST, _FILL_WATCH, _FILL_STOP = Decimal(65), Decimal(85), Decimal(90)
_MOVING = frozenset({"reciprocating", "rotary"})
_FIRST_BRANCH, _LAST = Decimal(3), Decimal(25)


class GlandUnusable(ValueError):
    """The sizes belong to no groove that this ring could lie in; ``what`` names the size at fault."""

    def __init__(self, what: str, words: str) -> None:
        super().__init__(words)
        self.what = what


@dataclass(frozen=True)
class Gland:
    """Stretch, loss of section, squeeze and fill in per cent, the section when stretched in mm, and the finding.

    ``finding``: good, watch (outside what is usual), or stop; ``reasons`` says what was found, worst first.
    """

    stretch_percent: Decimal | None
    section_loss_percent: Decimal
    stretched_section_mm: Decimal
    squeeze_percent: Decimal
    fill_percent: Decimal
    finding: str
    reasons: tuple[str, ...]


def stretch(inside_mm: Decimal, groove_diameter_mm: Decimal) -> Decimal:
    """X = 100 (dg - d1) / d1: how far the ring is stretched over its groove or shaft, in per cent."""
    return _HUNDRED * (groove_diameter_mm - inside_mm) / inside_mm


def section_loss(stretch_percent: Decimal) -> Decimal:
    """By how many per cent stretching thins the section (ISO 3601-2, value from memory); 0 where nothing is stretched.

    0.01 + 1.06 X - 0.1 X^2 up to 3 %, 0.56 + 0.59 X - 0.0046 X^2 up to 25 %. Raises `GlandUnusable` above.
    """
    x = stretch_percent
    if x <= 0:
        return Decimal(0)
    if x > _LAST:
        raise GlandUnusable("groove_diameter", f"Stretched by {x:.1f} %; nothing is known above 25 %.")
    if x <= _FIRST_BRANCH:
        return Decimal("0.01") + Decimal("1.06") * x - Decimal("0.1") * x**2
    return Decimal("0.56") + Decimal("0.59") * x - Decimal("0.0046") * x**2


def gland(
    *,
    section_mm: Decimal,
    depth_mm: Decimal,
    width_mm: Decimal,
    service: str,
    inside_mm: Decimal | None = None,
    groove_diameter_mm: Decimal | None = None,
) -> Gland:
    """Squeeze = 100 (d2' - t)/d2', fill = 100 (pi/4 d2^2)/(t b); t is the depth with the gap.

    ``inside_mm`` and ``groove_diameter_mm`` together tell the stretch, which a face groove need not have. Raises
    `GlandUnusable`.
    """
    if depth_mm <= 0 or width_mm <= 0:
        raise GlandUnusable("depth", "The groove has no depth or no width.")
    stretched = None
    if inside_mm is not None and groove_diameter_mm is not None:
        stretched = stretch(inside_mm, groove_diameter_mm)
    loss = section_loss(stretched) if stretched is not None else Decimal(0)
    section = section_mm * (1 - loss / _HUNDRED)
    squeeze = _HUNDRED * (section - depth_mm) / section
    fill = _HUNDRED * (PI / 4 * section_mm**2) / (depth_mm * width_mm)
    found = [_squeezed(squeeze, service), _filled(fill, service)]
    if stretched is not None:
        found.append(_stretched(stretched, service))
    found.sort(key=lambda one: (GOOD, WATCH, STOP).index(one[0]), reverse=True)
    return Gland(stretched, loss, section, squeeze, fill, found[0][0], tuple(words for _, words in found))


def _squeezed(squeeze: Decimal, service: str) -> tuple[str, str]:
    (usual_from, usual_to), (least, most) = _SQUEEZE[service]
    usual = f"{usual_from} to {usual_to} % is usual ({service})."
    if squeeze < 0 or (squeeze == 0 and least > 0):
        return STOP, f"Not squeezed at all: the groove is {-squeeze:.1f} % deeper than the ring is thick; {usual}"
    words = f"Squeezed by {squeeze:.1f} %; {usual}"
    if not least <= squeeze <= most:
        return STOP, f"{words} Outside {least} to {most} % it leaks or is crushed."
    return (GOOD if usual_from <= squeeze <= usual_to else WATCH), words


def _filled(fill: Decimal, service: str) -> tuple[str, str]:
    usual = "up to 85 % is usual" if service in _MOVING else "65 to 85 % is usual, 75 % the aim"
    words = f"The groove is {fill:.1f} % full; {usual}."
    if fill > _FILL_STOP:
        return STOP, f"{words} It is overfilled: a ring that swells has no room."
    least = Decimal(0) if service in _MOVING else _FILL_LEAST
    return (GOOD if least <= fill <= _FILL_WATCH else WATCH), words


def _stretched(stretched: Decimal, service: str) -> tuple[str, str]:
    if service == "rotary":
        if stretched <= 0:
            return GOOD, f"The ring is {-stretched:.1f} % larger than its groove, as it must be round a turning shaft."
        return STOP, f"Stretched by {stretched:.1f} %; round a turning shaft a ring is not stretched at all."
    words = f"Stretched by {stretched:.1f} %; 1 to 5 % is usual."
    if stretched < 0:
        words = f"The ring is {-stretched:.1f} % larger than its groove; stretched by 1 to 5 % is usual."
        if -stretched > _STRETCH_STOP:
            return STOP, f"{words} It lies in waves: this is another groove's ring."
        return WATCH, words
    if stretched > _STRETCH_STOP:
        return STOP, f"{words} Above 10 % it ages fast and thins."
    usual_from = 0 if service == "static-face" else 1
    return (GOOD if usual_from <= stretched <= _STRETCH_WATCH else WATCH), words
