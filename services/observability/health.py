"""Whether the process lives, and whether it can serve."""

import redis
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe


@never_cache
@require_safe
def healthz(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is asked."""
    return JsonResponse({"status": "alive"})


@never_cache
@require_safe
def readyz(request: HttpRequest) -> JsonResponse:
    """200 once database, migrations and broker are as they should be; 503 names what is not, without its secrets."""
    checks: dict[str, str] = {"database": _database(), "broker": _broker()}
    # Without a database the question would only wait once more for a connection.
    checks["migrations"] = _migrations() if checks["database"] == "ok" else "cannot be read"
    ready = all(one == "ok" for one in checks.values())
    return JsonResponse({"status": "ready" if ready else "not ready", "checks": checks}, status=200 if ready else 503)


def _database() -> str:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return "cannot be reached"
    return "ok"


_migrated = False


def _migrations() -> str:
    """Looked at until they are complete; a process runs the code of one version only."""
    global _migrated
    if _migrated:
        return "ok"
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return "cannot be read"
    if waiting:
        return f"{len(waiting)} not applied"
    _migrated = True
    return "ok"


def _broker() -> str:
    try:
        client = redis.Redis.from_url(settings.REDIS_URL, socket_timeout=1, socket_connect_timeout=1)
        client.ping()
        client.close()
    except (redis.RedisError, OSError):
        return "cannot be reached"
    return "ok"
