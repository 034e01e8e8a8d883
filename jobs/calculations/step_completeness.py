"""What a step still asks for before it may be confirmed."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Unmet:
    """A characteristic that keeps a step from being confirmed: not-measured, reject or not-proved, in words."""

    code: str
    why: str
    sentence: str


def unmet(
    asked: Iterable[tuple[Any, str]], latest: Mapping[Any, tuple[Any, str]], conceded: Collection[Any]
) -> list[Unmet]:
    """What is missing of the characteristics a step asks for.

    ``asked``: id and code of each; ``latest``: by characteristic, the last measurement's id and verdict; ``conceded``:
    measurements that somebody else allowed to stand.
    """
    found = []
    for characteristic, code in asked:
        measured = latest.get(characteristic)
        if measured is None:
            found.append(Unmet(code, "not-measured", f"{code} has not been measured."))
        elif measured[1] != "accept" and measured[0] not in conceded:
            words = measured[1].replace("-", " ")
            found.append(Unmet(code, measured[1], f"{code}: the last measurement is {words}."))
    return found
