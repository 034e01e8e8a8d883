"""Whoever follows the change feed ends with what reading says."""

from typing import Any

import pytest

from tests.feeds import until_told
from tests.jobs.test_overhaul import finished
from tests.overhauls import hands, open_workshop
from tests.world import gather_cast

pytestmark = pytest.mark.django_db(transaction=True)

PLACES = {
    "job": "jobs",
    "pump": "pumps",
    "order": "orders",
    "kit": "kits",
    "part": "parts",
    "site": "sites",
    "reservation": "reservations",
}


def follow(client, after=""):
    """Everything the feed tells, page by page, applied by version."""
    known: dict[Any, Any] = {}
    pages = 0
    until_told()
    while True:
        page = client.get(f"/api/v1/changes?limit=7&after={after}").json()
        for one in page["results"]:
            key = one["type"], one["id"]
            if key not in known or one["version"] >= known[key]["version"]:
                known[key] = one
        after, pages = page["next"], pages + 1
        if not page["more"]:
            return known, after, pages


def test_replaying_the_feed_equals_reading():
    cast = gather_cast()
    workshop = open_workshop(cast)
    hand = hands(cast)
    job = finished(cast, workshop, hand)
    hand["supervisor"].post(f"jobs/{job['id']}/sign-off", seen=f"jobs/{job['id']}")
    client = cast.client("chief")
    known, after, pages = follow(client)
    assert pages > 3
    told = {kind for kind, _ in known}
    assert {"job", "pump", "movement", "reservation", "measurement", "fitted-part", "lot"} <= told
    for (kind, pk), change in known.items():
        if kind not in PLACES:
            continue
        read = client.get(f"/api/v1/{PLACES[kind]}/{pk}").json()
        for name in ("state", "number", "tag", "serial_number", "code", "name"):
            if name in (change["body"] or {}) and name in read:
                assert change["body"][name] == read[name], (kind, name)
    assert client.get(f"/api/v1/changes?after={after}").json()["results"] == []


def test_a_site_hears_only_of_itself():
    cast = gather_cast()
    open_workshop(cast)
    here, _, _ = follow(cast.client("reader"))
    there, _, _ = follow(cast.client("stranger"))
    assert any(one["site"] == str(cast.north.pk) for one in here.values())
    assert not any(one["site"] == str(cast.north.pk) for one in there.values())
    assert not any(kind in {"grant", "principal"} for kind, _ in there)
