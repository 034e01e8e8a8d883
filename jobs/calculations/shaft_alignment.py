"""Where the movable shaft runs, from four readings a turn of dial indicators at a coupling.

Both shafts are turned together; a plunger pushed in reads positive; each dial was set to zero at the top. Places are
told looking from the stationary machine to the movable one. Lengths in mm; ``x`` grows from the stationary to the
movable machine; ``y`` above zero: the movable shaft is high, or to the right. Geometry, derived here; the rules of
reading are common practice, no source.
"""

from dataclasses import dataclass
from decimal import Decimal

PLACES = ("top", "right", "bottom", "left")
# How far top + bottom and left + right of one turn may lie apart (common practice, no source).
CLOSURE_TOLERANCE_MM = Decimal("0.03")
FORMULA = (
    "rim: y = (T − (B − s)) / 2 on the movable hub, ((B − s) − T) / 2 on the stationary one; "
    "reverse: slope = (y2 − y1) / A; face: slope = (FT − FB) / D; y(x) = y + slope × x"
)


@dataclass(frozen=True)
class Turn:
    """Readings of one dial at 12, 3, 6 and 9 o'clock."""

    top: Decimal
    right: Decimal
    bottom: Decimal
    left: Decimal

    @property
    def closure(self) -> Decimal:
        """Top and bottom less left and right: zero where nothing slipped, whatever the bracket sags.

        A bracket that sags by s at the bottom sags by half of it at both sides, so that it cancels here.
        """
        return self.top + self.bottom - self.left - self.right

    def without_sag(self, sag: Decimal) -> "Turn":
        """``sag`` is what the dial reads at the bottom on a stiff bar, zeroed at the top: below zero as a rule."""
        return Turn(self.top, self.right - sag / 2, self.bottom - sag, self.left - sag / 2)


@dataclass(frozen=True)
class Axis:
    """The movable shaft in one plane: how far off at ``x`` = 0, and its slope in mm a mm."""

    offset: Decimal
    slope: Decimal

    def at(self, x: Decimal) -> Decimal:
        """How far off the movable shaft is there."""
        return self.offset + self.slope * x


@dataclass(frozen=True)
class Alignment:
    """The movable shaft seen from the side and from above."""

    vertical: Axis
    horizontal: Axis


def reverse_indicator(
    *, stationary: Turn, movable: Turn, plane_distance_mm: Decimal, sag_stationary: Decimal, sag_movable: Decimal
) -> Alignment:
    """From a dial on each hub, ``plane_distance_mm`` apart; ``x`` = 0 where the stationary hub is read.

    The dial on the stationary hub is carried by the movable shaft, the one on the movable hub by the stationary shaft.
    """
    first, second = stationary.without_sag(sag_stationary), movable.without_sag(sag_movable)
    at_first = ((first.bottom - first.top) / 2, (first.left - first.right) / 2)
    at_second = ((second.top - second.bottom) / 2, (second.right - second.left) / 2)
    axes = [Axis(one, (other - one) / plane_distance_mm) for one, other in zip(at_first, at_second, strict=True)]
    return Alignment(*axes)


def rim_and_face(
    *, rim: Turn, face: Turn, face_diameter_mm: Decimal, sag: Decimal, face_sag: Decimal, dial_on: str
) -> Alignment:
    """From a dial on a rim and one on a face at ``face_diameter_mm``; ``x`` = 0 where the rim is read.

    ``dial_on`` says whose hub the rim's dial touches: ``movable`` or ``stationary``. The face's dial looks at the gap,
    so that it reads the same way from either side.
    """
    plain, gap = rim.without_sag(sag), face.without_sag(face_sag)
    side = 1 if dial_on == "movable" else -1
    return Alignment(
        Axis(side * (plain.top - plain.bottom) / 2, (gap.top - gap.bottom) / face_diameter_mm),
        Axis(side * (plain.right - plain.left) / 2, (gap.right - gap.left) / face_diameter_mm),
    )


def shim_change(axis: Axis, foot_mm: Decimal) -> Decimal:
    """What to put under a foot (below zero: to take away), or how far to move it to the right, in mm."""
    return -axis.at(foot_mm)
