"""What every typed specification has, and how two are compared."""

import dataclasses
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, ClassVar


class SpecificationError(ValueError):
    """A specification that cannot be read: the field, what is wrong, and what would help."""

    def __init__(self, field: str, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.field, self.what, self.remedy = field, what, remedy


@dataclass(frozen=True)
class Point:
    """One thing compared: its name, what was asked, what is offered, whether that serves."""

    name: str
    asked: str
    offered: str
    same: bool


@dataclass(frozen=True)
class Comparison:
    """``equal``: the offered part serves in all that matters. ``comparable``: both are of one typed category."""

    equal: bool
    comparable: bool
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Specification:
    """A typed specification; subclasses name their category and say what matters."""

    category: ClassVar[str] = ""

    def designation(self) -> str:
        """Canonical text; reading it gives the same specification."""
        raise NotImplementedError

    def points(self, offered: Any) -> tuple[Point, ...]:
        """What matters, compared with an offered specification of the same category."""
        raise NotImplementedError

    def elastomers(self) -> tuple[str, ...]:
        """ISO 1629 codes the part brings."""
        return ()

    def faces(self) -> tuple[str, ...]:
        """Letters of EN 12756 for the seal faces the part brings, such as ``Q1`` and ``B``."""
        return ()

    def alike(self) -> tuple[Any, ...]:
        """What two specifications must share exactly for one to be equal to the other, for finding candidates: where
        ``points`` are all the same, this is equal; the reverse need not hold."""
        return ()

    def to_json(self) -> dict[str, Any]:
        """JSON-safe fields with the category; decimals as text."""
        fields = {one.name: getattr(self, one.name) for one in dataclasses.fields(self)}
        return {"category": self.category, **{name: _plain(value) for name, value in fields.items()}}


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else list(value) if isinstance(value, tuple) else value


def size(text: str, field: str) -> Decimal:
    """A positive size in millimetres. Raises `SpecificationError`."""
    try:
        value = Decimal(text.replace(",", "."))
    except InvalidOperation as error:
        raise SpecificationError(field, f"{text!r} is no size.", "Write millimetres, like 50.39.") from error
    if not value.is_finite() or value <= 0:
        raise SpecificationError(field, f"{text!r} is no size above zero.", "Write millimetres, like 50.39.")
    return value


def plain(value: Decimal) -> str:
    """A decimal without trailing zeros."""
    return format(value.normalize(), "f")


def same(name: str, asked: Any, offered: Any) -> Point:
    """A point that must be equal."""
    words = [plain(one) if isinstance(one, Decimal) else str(one) for one in (asked, offered)]
    return Point(name, words[0], words[1], asked == offered)


# ISO 1629 codes of the elastomers in use (letters value from memory), with FPM as the older name of FKM.
ELASTOMERS = (
    "NBR", "HNBR", "EPDM", "EPM", "FKM", "FFKM", "VMQ", "FVMQ", "CR", "AU", "EU", "NR", "IR", "BR", "SBR", "IIR",
    "FEPM", "ACM", "ECO", "CSM",
)  # fmt: skip
ALIASES = {"FPM": "FKM"}
_WORD = re.compile(r"[A-Z0-9]+")


def elastomer(text: str, field: str = "material") -> str:
    """The ISO 1629 code of an elastomer. Raises `SpecificationError` naming the known ones."""
    code = ALIASES.get(text.upper(), text.upper())
    if code not in ELASTOMERS:
        raise SpecificationError(
            field, f"{text!r} is no elastomer of ISO 1629 known here.", f"Known: {', '.join(ELASTOMERS)}."
        )
    return code
