"""States of jobs in the tables and in the computation."""

from jobs.calculations.job_states import STATES
from jobs.models import JobState


def test_jobs_are_kept_in_the_states_that_the_computation_knows() -> None:
    assert set(STATES) == set(JobState.values)
