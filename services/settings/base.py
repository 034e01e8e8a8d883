"""Settings that hold everywhere; the three siblings say what differs."""

import sys
from pathlib import Path

from services.observability import logging as observability_logging
from services.settings import environment
from services.settings.environment import env

BASE_DIR = Path(__file__).resolve().parents[2]
DEBUG = False
SECRET_KEY = ""
ALLOWED_HOSTS: list[str] = env.list("ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
PUBLIC_ADDRESS = environment.public_address(env.str("PUBLIC_ADDRESS", "http://localhost:8000"))
CSRF_TRUSTED_ORIGINS: list[str] = env.list("CSRF_TRUSTED_ORIGINS", [])

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "services.api",
    "services.identity",
    "services.changes",
    "services.work",
    "services.web",
    "services.observability",
    "assets",
    "kits",
    "jobs",
    "services.feed",
    "services.bulk_loads",
    "services.worker",
    "services.demo",
]

MIDDLEWARE = [
    "services.observability.request_ids.RequestIdMiddleware",
    "services.observability.metrics.MetricsMiddleware",
    "services.api.problems.ProblemMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "services.identity.sessions.PrincipalMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "services.urls"
WSGI_APPLICATION = "services.wsgi.application"
APPEND_SLASH = False
CSRF_FAILURE_VIEW = "services.api.problems.csrf_failure"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "services.web.pages.shell",
            ],
        },
    }
]

_migrating = len(sys.argv) > 1 and sys.argv[1] in {"migrate", "grant_application_role"}
DATABASES = {
    "default": environment.postgresql(
        environment.migration_database_url() if _migrating else environment.database_url(),
        pool=not _migrating,
    )
}
APPLICATION_ROLE = env.str("APPLICATION_ROLE", "backpull_app")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "identity.Principal"
AUTHENTICATION_BACKENDS = ["services.identity.passwords.PasswordBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
# A login is used once whatever its capitals: a functional unique index keeps it, which this check does not see.
SILENCED_SYSTEM_CHECKS = ["auth.W004"]
LOGIN_URL = "/sign-in"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_SAMESITE = "Lax"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "/static/"
STATIC_ROOT: Path | None = None
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False

STORAGES: dict[str, dict[str, object]] = {
    "default": environment.attachment_storage(env.str("ATTACHMENTS_FOLDER", str(BASE_DIR / ".data" / "attachments"))),
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
ATTACHMENT_MOST_BYTES = env.int("ATTACHMENT_MOST_BYTES", 10 * 1024 * 1024)

DATA_UPLOAD_MAX_MEMORY_SIZE = 20 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "services.identity.authentication.TokenAuthentication",
        "services.identity.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["services.identity.permissions.ScopePermission"],
    "DEFAULT_RENDERER_CLASSES": ["services.api.rendering.JsonRenderer"],
    "DEFAULT_PARSER_CLASSES": ["services.api.parsing.StrictJsonParser"],
    "DEFAULT_SCHEMA_CLASS": "services.api.schema.Schema",
    "DEFAULT_VERSIONING_CLASS": None,
    "DEFAULT_THROTTLE_CLASSES": ["services.identity.rate_limits.PrincipalThrottle"],
    "EXCEPTION_HANDLER": "services.api.problems.handle_exception",
    "UNAUTHENTICATED_USER": None,
    "COERCE_DECIMAL_TO_STRING": True,
    "NUM_PROXIES": env.int("NUM_PROXIES", 0),
}
RATE_LIMIT_PER_MINUTE = env.int("RATE_LIMIT_PER_MINUTE", 1200)
FEED_WAITERS = env.int("FEED_WAITERS", 2)
SIGN_IN_LIMIT_PER_MINUTE = env.int("SIGN_IN_LIMIT_PER_MINUTE", 10)
# What seals the records of closed jobs, by key id, and which of them seals new ones; never in the database.
RECORD_KEYS: dict[str, bytes] = {}
RECORD_KEY = ""
WORK_LEASE_SECONDS = env.int("WORK_LEASE_SECONDS", 600)

SPECTACULAR_SETTINGS = {
    "TITLE": "Backpull",
    "VERSION": "1.0.0",
    "DESCRIPTION": (
        "Spare parts kits and overhaul jobs of centrifugal pumps over many sites. "
        "The service supports trained people; site rules, permits and local law come first."
    ),
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "SCHEMA_PATH_PREFIX": r"/api/v1",
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "services.api.schema.document_problems",
    ],
    "SERVERS": [{"url": "/", "description": "This service"}],
}

REDIS_URL = environment.redis_url()
CELERY_BROKER_URL = (
    ("redis+socket://" + REDIS_URL.removeprefix("unix://")) if REDIS_URL.startswith("unix://") else REDIS_URL
)

LOGGING = observability_logging.configure(development=False)
LOGGING_CONFIG = "logging.config.dictConfig"
