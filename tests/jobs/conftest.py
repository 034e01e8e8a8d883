"""What most tests of jobs begin from: a pump that can be overhauled, and everybody's hands on the API."""

import pytest

from tests.overhauls import Hand, Workshop, hands, open_workshop
from tests.world import Cast


@pytest.fixture
def workshop(cast: Cast) -> Workshop:
    """A pump at north with the kit that fits it, procedure, instruments and stock."""
    return open_workshop(cast)


@pytest.fixture
def hand(cast: Cast) -> dict[str, Hand]:
    """Hands by role."""
    return hands(cast)
