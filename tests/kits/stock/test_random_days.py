"""Whatever two stores do, in whatever order: the ledger agrees with a second book, and nothing is lost, doubled,
oversold or left untold. ``LEDGER_EXAMPLES`` asks for more and longer days, as a nightly run does."""

import os

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.kits.stock.random_trade import RandomDays

EXAMPLES = int(os.environ.get("LEDGER_EXAMPLES", "0"))


@pytest.mark.django_db
@pytest.mark.timeout(240 + 20 * EXAMPLES)
def test_the_ledger_agrees_with_a_second_book_whatever_the_stores_do(cast):
    class Days(RandomDays):
        pass

    Days.cast = cast
    run_state_machine_as_test(
        Days,
        settings=settings(
            max_examples=EXAMPLES or 10,
            stateful_step_count=80 if EXAMPLES else 45,
            derandomize=not EXAMPLES,
            database=None,
            deadline=None,
            # Shrinking takes minutes; a nightly run does it.
            phases=list(Phase) if EXAMPLES else [Phase.explicit, Phase.reuse, Phase.generate],
            suppress_health_check=list(HealthCheck),
        ),
    )
