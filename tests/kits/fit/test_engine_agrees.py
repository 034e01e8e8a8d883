"""The rule of fit against a second hand: the same verdicts, positions and materials over thousands of random pairs."""

import random
from collections import Counter

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.kits.fit.brute_force import Catalogue, judge
from tests.kits.fit.engine_inputs import Engine
from tests.kits.fit.random_catalogues import TODAY, random_catalogue

MATERIAL_RESULTS = {"limited", "unsuitable", "not-known"}


def disagreements(catalogue: Catalogue, seen: Counter[str]) -> list[str]:
    """Pairs of kit and pump on which the two hands differ, in words; what was met is counted in ``seen``."""
    engine = Engine(catalogue)
    found = []
    for pump in catalogue.pumps:
        for kit, theirs in zip(catalogue.kits, engine.judge(catalogue.kits, pump, TODAY), strict=True):
            ours = judge(catalogue, kit, pump, TODAY)
            positions = tuple((one.role, one.code) for one in theirs.reasons[: len(ours.positions)])
            rest = {one.code for one in theirs.reasons[len(ours.positions) :]}
            expected = {one for one in ours.materials.values() if one != "suitable"}
            seen[ours.verdict] += 1
            seen.update(result for _, result in ours.positions)
            seen.update(f"material {result}" for result in ours.materials.values())
            if (ours.verdict, ours.matched, ours.asked, ours.positions, expected) != (
                theirs.verdict,
                theirs.matched,
                theirs.asked,
                positions,
                rest,
            ):
                found.append(f"{kit}\n{pump}\nby hand: {ours}\nby the service: {theirs}")
    return found


def test_on_thousands_of_random_pairs_both_hands_agree():
    seen: Counter[str] = Counter()
    for seed in range(150):
        found = disagreements(random_catalogue(random.Random(seed)), seen)
        assert not found, f"seed {seed}: {found[0]}"
    common = {
        "fits", "fits-with-notes", "incomplete", "unsuitable", "no-fit", "exact", "superseded", "equivalent", "missing",
        "short", "material suitable", "material limited", "material unsuitable", "material not-known",
    }  # fmt: skip
    assert {name for name in common if seen[name] < 50} == set()


@settings(max_examples=40, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck), database=None)
@given(st.randoms(use_true_random=False))
def test_where_they_differ_the_smallest_catalogue_is_shown(rng):
    catalogue = random_catalogue(rng, kits=1, pumps=2)
    assert disagreements(catalogue, Counter()) == []
