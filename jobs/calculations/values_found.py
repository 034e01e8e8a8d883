"""What a rule finds: the value, the lines of its budget, and what else the readings tell."""

from dataclasses import dataclass
from decimal import Decimal

from jobs.calculations.uncertainty import Contribution, calibration, resolution


@dataclass(frozen=True)
class Result:
    """Something that the readings tell besides the value judged: for information."""

    name: str
    value: Decimal
    unit: str
    words: str


@dataclass(frozen=True)
class Found:
    """Value and contributions in the unit that the rule works in."""

    value: Decimal
    lines: list[Contribution]
    results: list[Result]


@dataclass(frozen=True)
class ToolFigures:
    """An instrument's step and expanded uncertainty (k = 2) in the unit that the rule works in."""

    resolution: Decimal
    expanded_uncertainty: Decimal

    def lines(self, unit: str, sensitivity: Decimal, of: str = "") -> list[Contribution]:
        """What the instrument adds to a value that changes by ``sensitivity`` for its error."""
        return [
            calibration(self.expanded_uncertainty, unit, of=of).scaled(sensitivity),
            resolution(self.resolution, unit, of=of).scaled(sensitivity),
        ]
