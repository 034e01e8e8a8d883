"""A real installation behind an edge that ends TLS. Nothing secret has a default."""

from services.settings import environment
from services.settings.base import *  # noqa: F403
from services.settings.environment import env

SECRET_KEY = environment.required("SECRET_KEY")
SECRET_KEY_FALLBACKS: list[str] = env.list("SECRET_KEY_FALLBACKS", [])
RECORD_KEYS = environment.record_keys(environment.required("RECORD_KEYS"))
RECORD_KEY = environment.record_key(RECORD_KEYS, env.str("RECORD_KEY", ""))
environment.required("DATABASE_URL")
environment.required("REDIS_URL")
environment.required("PUBLIC_ADDRESS")

# Health checks come from inside, by address.
ALLOWED_HOSTS = [*env.list("ALLOWED_HOSTS", ["localhost"]), "127.0.0.1"]

SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_SSL_REDIRECT = env.bool("SECURE_SSL_REDIRECT", True)
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$", r"^metrics$"]
SECURE_HSTS_SECONDS = env.int("SECURE_HSTS_SECONDS", 31_536_000)
SECURE_HSTS_INCLUDE_SUBDOMAINS = env.bool("SECURE_HSTS_INCLUDE_SUBDOMAINS", False)
# Whether names below this one are HTTPS only, and known to browsers in advance, is for the operator to decide.
SILENCED_SYSTEM_CHECKS = ["auth.W004", "security.W005", "security.W021"]
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
SESSION_COOKIE_NAME = "__Host-session"
CSRF_COOKIE_NAME = "__Host-csrf"
STATIC_ROOT = BASE_DIR / "build" / "static"  # noqa: F405
WHITENOISE_USE_FINDERS = False
STORAGES = {
    **STORAGES,  # noqa: F405
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
