"""The only file that reads the environment.

Every name here is listed in docs/settings.md; a test compares the two.
"""

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

from environs import Env, EnvError

env = Env()


# A list joins up to eight tables by their keys. Weighing every order of them takes PostgreSQL longer than reading the
# page (`make bench`); our statements name their leading table first.
PLANNING = "-c join_collapse_limit=4"


class ConfigurationError(Exception):
    """The environment lacks something the service cannot run without."""


def postgresql(url: str, *, pool: bool) -> dict[str, Any]:
    """Django's database settings from a ``postgresql://`` address.

    A Unix socket folder is given as ``?host=/folder``; ``?options=`` replaces how statements are planned. With
    ``pool`` the connections come from psycopg's pool.
    """
    parts = urlsplit(url)
    if parts.scheme not in {"postgresql", "postgres"}:
        raise ConfigurationError(f"DATABASE_URL must begin with postgresql://, not {parts.scheme!r}://")
    query = {key: values[-1] for key, values in parse_qs(parts.query).items()}
    host = query.pop("host", parts.hostname or "")
    options: dict[str, Any] = {"application_name": "backpull", "options": PLANNING, **query}
    if pool:
        options["pool"] = {"min_size": 1, "max_size": env.int("DATABASE_POOL_SIZE", 4), "timeout": 10}
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": unquote(parts.path.lstrip("/")),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or ""),
        "HOST": host,
        "PORT": str(parts.port or query.pop("port", "") or ""),
        "OPTIONS": options,
        "CONN_MAX_AGE": 0,
        # What lay in the pool while PostgreSQL was restarted is found to be dead before a request or a task gets it.
        "CONN_HEALTH_CHECKS": pool,
    }


def required(name: str) -> str:
    """A setting without a safe default."""
    try:
        return env.str(name)
    except EnvError as error:
        raise ConfigurationError(f"{name} is not set; see docs/settings.md for what it holds") from error


def database_url() -> str:
    return env.str("DATABASE_URL", "postgresql://backpull_owner@/backpull?host=/var/run/postgresql")


def migration_database_url() -> str:
    """The owning role's address; the application's own address where none is given."""
    return env.str("MIGRATION_DATABASE_URL", database_url())


def public_address(address: str) -> str:
    """The address under which phones reach the service, without a slash at its end. It stands in every label."""
    parts = urlsplit(address)
    if parts.scheme not in {"http", "https"} or not parts.hostname or parts.query or parts.fragment or parts.username:
        raise ConfigurationError(f"PUBLIC_ADDRESS must be like https://pumps.example.org, not {address!r}")
    return address.rstrip("/")


LEAST_KEY_BYTES = 32


def record_keys(text: str) -> dict[str, bytes]:
    """Keys that seal the records of closed jobs, by id: ``id:hex`` separated by commas, 32 bytes each at least.

    Raises `ConfigurationError` where one is malformed or too short, or an id comes twice. No key stands in a message.
    """
    keys: dict[str, bytes] = {}
    for place, one in enumerate(filter(None, (part.strip() for part in text.split(","))), start=1):
        name, _, digits = one.partition(":")
        try:
            key = bytes.fromhex(digits)
        except ValueError:
            key = b""
        if not re.fullmatch(r"[A-Za-z0-9._-]{1,40}", name) or len(key) < LEAST_KEY_BYTES:
            raise ConfigurationError(
                f"RECORD_KEYS: key {place} must be an id, a colon and at least {LEAST_KEY_BYTES * 2} hex digits"
            )
        if name in keys:
            raise ConfigurationError(f"RECORD_KEYS: the id of key {place} comes twice")
        keys[name] = key
    return keys


def record_key(keys: Mapping[str, bytes], chosen: str) -> str:
    """The id of the key that seals new records: the one chosen, or the only one there is."""
    if not keys:
        raise ConfigurationError("RECORD_KEYS holds no key; see docs/settings.md for what it holds")
    if not chosen and len(keys) == 1:
        return next(iter(keys))
    if chosen not in keys:
        raise ConfigurationError("RECORD_KEY must name one of the keys in RECORD_KEYS")
    return chosen


def redis_url() -> str:
    return env.str("REDIS_URL", "redis://127.0.0.1:6379/0")


def attachment_storage(folder: str) -> dict[str, Any]:
    """Where photos and documents lie: a folder, or a bucket of an S3-compatible store where one is named.

    Keys to the bucket come from where its client looks by itself: the environment, or the machine's role.
    """
    bucket = env.str("ATTACHMENTS_BUCKET", "")
    if not bucket:
        return {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": folder}}
    return {
        "BACKEND": "storages.backends.s3.S3Storage",
        "OPTIONS": {
            "bucket_name": bucket,
            "endpoint_url": env.str("ATTACHMENTS_ENDPOINT", "") or None,
            "region_name": env.str("ATTACHMENTS_REGION", "") or None,
            "location": "attachments",
            "default_acl": "private",
            "file_overwrite": True,
        },
    }
