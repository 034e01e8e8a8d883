"""Procedures that were kept before revisions were reviewed: what becomes of them, and the way back."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from jobs.models import ProcedureRevision, Step
from services.api.identifiers import new_id
from tests.migrated_back import migrate_back

BEFORE = [("jobs", "0006_offline_records")]


@pytest.mark.django_db(transaction=True)
def test_a_published_revision_gets_its_title_and_its_consumables_become_things_and_can_go_back():
    executor = MigrationExecutor(connection)
    latest = [key for key in executor.loader.graph.leaf_nodes() if key[0] == "jobs"]
    migrate_back(BEFORE)
    old = executor.loader.project_state(BEFORE).apps
    procedures, revisions = old.get_model("jobs", "Procedure"), old.get_model("jobs", "ProcedureRevision")
    procedure = procedures.objects.create(
        id=new_id(), code="OLD", title="An old one", configuration="in-line", scope_words="All of it."
    )
    revision = revisions.objects.create(id=new_id(), procedure=procedure, revision=1)
    old.get_model("jobs", "Step").objects.create(
        id=new_id(), revision=revision, number=10, section="make-safe", title="Clean", instruction="Clean.",
        consumables=["approved cleaner", "lint-free cloth"],
    )  # fmt: skip
    revisions.objects.update(state="published")
    MigrationExecutor(connection).migrate(latest)
    kept = ProcedureRevision.objects.get()
    assert (kept.title, kept.scope_words, kept.state) == ("An old one", "All of it.", "published")
    assert Step.objects.get().consumables == [
        {"name": "approved cleaner", "kind": "other", "note": ""},
        {"name": "lint-free cloth", "kind": "other", "note": ""},
    ]
    ProcedureRevision.objects.update(state="superseded")
    migrate_back(BEFORE)
    assert revisions.objects.get().state == "withdrawn"
    assert old.get_model("jobs", "Step").objects.get().consumables == ["approved cleaner", "lint-free cloth"]
