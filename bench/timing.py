"""Two ways of doing one thing, timed in turns so that whatever else the machine does meets both."""

import gc
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Comparison:
    """What was measured; seconds are medians of one turn."""

    name: str
    floor: str
    unit: str
    per_turn: int
    seconds: float
    floor_seconds: float

    @property
    def ratio(self) -> float:
        return self.seconds / self.floor_seconds

    @property
    def per_second(self) -> float:
        return self.per_turn / self.seconds


median = statistics.median


def compare(
    name: str,
    ours: Callable[[int], object],
    floor: Callable[[int], object],
    *,
    floor_words: str,
    unit: str,
    per_turn: int = 1,
    turns: int,
) -> Comparison:
    """Do both ``turns`` times, in turns, each told which turn it is; the first turn of both warms up and is dropped."""
    taken: dict[str, list[float]] = {"ours": [], "floor": []}
    gc.collect()
    for turn in range(turns + 1):
        for side, act in (("ours", ours), ("floor", floor)):
            begun = time.perf_counter()
            act(turn)
            taken[side].append(time.perf_counter() - begun)
    return Comparison(
        name=name,
        floor=floor_words,
        unit=unit,
        per_turn=per_turn,
        seconds=statistics.median(taken["ours"][1:]),
        floor_seconds=statistics.median(taken["floor"][1:]),
    )
