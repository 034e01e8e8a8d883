"""One step is said as one, several as several."""

import pytest

from jobs.calculations.step_order import steps_in_words


@pytest.mark.parametrize(
    ("numbers", "said"), [((10,), "step 10 is"), ((10, 20), "steps 10, 20 are"), ((10, 20, 30), "steps 10, 20, 30 are")]
)
def test_steps_are_named_with_the_verb_that_belongs_to_them(numbers, said):
    assert steps_in_words(numbers) == said
