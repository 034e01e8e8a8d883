"""One set of servers for the tests of a file, killed and started again by turns; Django works on them as long."""

from collections.abc import Iterator
from typing import Any

import pytest

from tests.conftest import Clones
from tests.faults.servers import Servers, running_servers


@pytest.fixture(scope="module")
def servers(clones: Clones, django_db_blocker: Any) -> Iterator[Servers]:
    with django_db_blocker.unblock(), running_servers(clones, ("first", "second")) as made:
        yield made


@pytest.fixture(autouse=True)
def both_workers(servers: Servers, django_db_blocker: Any) -> Iterator[None]:
    """Each test begins with two workers, whoever was killed before."""
    with django_db_blocker.unblock():
        for name in {"first", "second"} - set(servers.workers):
            servers.start_worker(name)
        servers.until_workers_are_ready()
        yield
