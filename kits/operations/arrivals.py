"""What is said to have come of an order or a transfer, before anything of it is believed."""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Protocol

from services.api.refusals import FieldProblem, InvalidValue


class CameOfLine(Protocol):
    """So many of one line."""

    @property
    def line(self) -> int:
        """Its place on the order or the transfer."""

    @property
    def quantity(self) -> Decimal:
        """What came of it."""


def refuse_unreceivable(arrived: Sequence[CameOfLine], lines: Iterable[int], *, remedy: str) -> None:
    """Raises `InvalidValue` for lines that are not there, for nothing, or for less than something of one."""
    problems, known = [], sorted(lines)
    for index, one in enumerate(arrived):
        if one.line not in known:
            listed = ", ".join(map(str, known))
            problems.append(
                FieldProblem(f"#/lines/{index}/line", "no-such-line", f"Line {one.line} is not on it; it has {listed}.")
            )
        if one.quantity <= 0:
            problems.append(FieldProblem(f"#/lines/{index}/quantity", "not-positive", "Must be above zero."))
    if not arrived:
        problems.append(FieldProblem("#/lines", "empty", "Nothing was named that arrived."))
    if problems:
        raise InvalidValue(" ".join(one.detail for one in problems), remedy=remedy, problems=problems)
