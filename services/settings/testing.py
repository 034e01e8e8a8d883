"""The test suite: a cheap password hash, plain connections (each test owns its transaction), no rate limits."""

from services.settings import environment
from services.settings.base import *  # noqa: F403

# Keeps migrations in one line; what serves has no need of it.
INSTALLED_APPS = ["django_linear_migrations", *INSTALLED_APPS]  # noqa: F405
SECRET_KEY = "only-for-tests-00000000000000000000000000000000000000"  # noqa: S105
RECORD_KEYS = {"test-1": b"only-for-tests-".ljust(32, b"1"), "test-2": b"only-for-tests-".ljust(32, b"2")}
RECORD_KEY = "test-1"
DATABASES = {"default": environment.postgresql(environment.migration_database_url(), pool=False)}
DATABASES["default"]["CONN_MAX_AGE"] = None
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
RATE_LIMIT_PER_MINUTE = 0
SIGN_IN_LIMIT_PER_MINUTE = 0
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.InMemoryStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# Each client of a test would list all static files anew; so they are looked for when one is asked for.
WHITENOISE_AUTOREFRESH = True
CELERY_BROKER_URL = "none"
