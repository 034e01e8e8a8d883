"""After any change the stored fits are again those worked out by hand, and those of a computation from nothing."""

import random

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.kits.fit.random_catalogues import random_catalogue
from tests.kits.fit.random_edits import Editor
from tests.kits.fit.stored import drain, fits_by_hand, read_back, rebuild, stored_fits, write
from tests.world import Cast

pytestmark = pytest.mark.django_db


def edit_and_compare(rng: random.Random, cast: Cast, *, batches: int) -> None:
    """A random catalogue, then batches of edits: each time the stored fits must be those by hand."""
    today = timezone.now().date()
    with transaction.atomic():
        write(random_catalogue(rng, on=today, kits=4, pumps=5), cast.north)
        drain()
        editor = Editor(rng, cast.by("data-owner"), cast.by("planner"))
        for _ in range(batches):
            done = [editor.edit() for _ in range(rng.choice((1, 1, 2, 3)))]
            drain()
            stored = stored_fits()
            assert stored == fits_by_hand(read_back(), today), done
        stored = stored_fits(of_pumps=False)
        rebuild()
        assert stored == stored_fits(of_pumps=False)
        transaction.set_rollback(True)


def test_after_random_edits_what_is_stored_is_what_is_worked_out_by_hand(cast):
    for seed in range(12):
        edit_and_compare(random.Random(seed), cast, batches=6)


@pytest.mark.timeout(900)
@settings(
    max_examples=6,
    derandomize=True,
    deadline=None,
    database=None,
    phases=(Phase.generate, Phase.shrink),
    suppress_health_check=list(HealthCheck),
)
@given(rng=st.randoms(use_true_random=False))
def test_the_shortest_edits_after_which_they_would_differ_are_shown(cast, rng):
    edit_and_compare(rng, cast, batches=1)
