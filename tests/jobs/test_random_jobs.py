"""Whatever hands do to jobs, in whatever order: states, records and their chain stay whole. ``JOB_EXAMPLES`` asks for
more and longer days, as a nightly run does."""

import os

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import initialize, invariant, rule, run_state_machine_as_test

from tests.jobs.random_jobs import RandomJobs, chances
from tests.overhauls import open_workshop

# What is done more often stands here more often.
DOINGS = (
    *["plan", "start", "decide_something", "sign"] * 2, *["work_on"] * 3, "go_on", "anything", "hold", "resume",
    "resume", "cancel", "raise_something", "reserve", "finish",
)  # fmt: skip
EXAMPLES = int(os.environ.get("JOB_EXAMPLES", "0"))


@pytest.mark.django_db
@pytest.mark.timeout(300 + 30 * EXAMPLES)
def test_states_records_and_chain_stay_whole_whatever_is_done(cast):
    ended = []

    class Days(RandomJobs):
        @initialize()
        def begin(self):
            self.open_the_workshop()

        # One rule for all: rules of their own would be left out of some examples altogether.
        @rule(doing=st.sampled_from(DOINGS), chance=chances())
        def does(self, doing, chance):
            getattr(self, doing)(chance)

        @invariant()
        def looks(self):
            if hasattr(self, "states"):
                self.look()

        def teardown(self):
            ended.append(len(getattr(self, "closed", [])))
            super().teardown()

    Days.cast, Days.workshop = cast, open_workshop(cast)
    run_state_machine_as_test(
        Days,
        settings=settings(
            max_examples=EXAMPLES or 6,
            stateful_step_count=90 if EXAMPLES else 60,
            derandomize=not EXAMPLES,
            database=None,
            deadline=None,
            phases=list(Phase) if EXAMPLES else [Phase.explicit, Phase.reuse, Phase.generate],
            suppress_health_check=list(HealthCheck),
        ),
    )
    assert sum(ended) >= 4
