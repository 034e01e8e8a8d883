"""A retry of whatever write gets the first answer again and has no second effect."""

import pytest
from django.db import transaction

from services.changes.models import Change
from tests.promises.bodies import bodies
from tests.promises.everything import fresh_key, make_everything
from tests.promises.test_access_matrix import WRITES

pytestmark = pytest.mark.django_db
# What each write of a machine's needs: the routes that refuse to work without a key.
DONE_BY = {name: sorted(roles)[0] for name, roles in WRITES.items()}


def test_a_repeat_is_answered_from_what_was_kept_and_changes_nothing():
    world = make_everything()
    sent = bodies(world)
    tried = 0
    for name, role in DONE_BY.items():
        method, route = name.split(" ", 1)
        path, client = world.path(f"api/v1/{route}"), world.cast.client(role)
        headers = {"Idempotency-Key": fresh_key()}
        read = client.get(path) if method == "PATCH" else None
        if read is not None and "ETag" in read.headers:
            headers["If-Match"] = read.headers["ETag"]
        before = transaction.savepoint()
        send = getattr(client, method.lower())
        first = send(path, sent.get(name, {}), format="json", headers=headers)
        if 200 <= first.status_code < 300:
            tried += 1
            changes = Change.objects.count()
            again = send(path, sent.get(name, {}), format="json", headers=headers)
            assert (again.status_code, again.content) == (first.status_code, first.content), name
            assert again.headers["Idempotency-Replayed"] == "true", name
            assert Change.objects.count() == changes, name
            other = send(path, {"something": "else"}, format="json", headers=headers)
            assert other.status_code == 422, (name, other.content)
        transaction.savepoint_rollback(before)
    assert tried > 20
