"""What most tests of stores begin with."""

from typing import Any

import pytest
from django.test import Client

from tests.overhauls import Hand, hands
from tests.shelves import Shelves, fill_catalogue
from tests.world import Cast


@pytest.fixture
def shelves(db: None) -> Shelves:
    """A kit of three lines, its parts, and a supplier."""
    return fill_catalogue()


@pytest.fixture
def hand(cast: Cast) -> dict[str, Hand]:
    """Everybody's hand on the API, by role."""
    return hands(cast)


@pytest.fixture
def stores(cast: Cast) -> Hand:
    return Hand(cast.client("stores"))


@pytest.fixture
def planner(cast: Cast) -> Hand:
    return Hand(cast.client("planner"))


@pytest.fixture
def reader(cast: Cast) -> Hand:
    return Hand(cast.client("reader"))


@pytest.fixture
def chief(cast: Cast) -> Hand:
    return Hand(cast.client("chief"))


@pytest.fixture
def browsers(cast: Cast) -> dict[str, Client]:
    """Everybody signed in at a page, by role."""
    found: dict[str, Any] = {}
    for role in cast.people:
        found[role] = Client()
        found[role].post("/sign-in", {"login": role, "password": "correct horse", "next": "/"})
    return found
