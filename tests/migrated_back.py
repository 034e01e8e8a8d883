"""The way back through migrations, for tests of what becomes of data."""

from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.migration import Migration
from django.db.migrations.state import ProjectState


def migrate_back(targets: list[tuple[str, str]]) -> None:
    """Undo what came after ``targets``, latest first, as the executor does.

    It would make the classes of all models anew with every operation on its way to the states from which migrations are
    undone; here that is done once for each migration.
    """
    executor = MigrationExecutor(connection)
    undone = [migration for migration, _ in executor.migration_plan(targets)]
    state, before = ProjectState(), dict[Migration, ProjectState]()
    for migration, _ in executor.migration_plan(executor.loader.graph.leaf_nodes(), clean_start=True):
        if migration in undone:
            before[migration] = state.clone()
        state = migration.mutate_state(state, preserve=False)
    for migration in undone:
        assert before[migration].apps
        executor.unapply_migration(before.pop(migration), migration)
