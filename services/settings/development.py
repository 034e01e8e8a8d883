"""A developer's or the demo's machine: loopback only, a key that protects nothing else, readable logs."""

from services.observability import logging as observability_logging
from services.settings import environment
from services.settings.base import *  # noqa: F403
from services.settings.environment import env

DEBUG = env.bool("DEBUG", False)
SECRET_KEY = env.str("SECRET_KEY", "only-for-loopback-development-and-the-demo-0000000000000000")
RECORD_KEYS = environment.record_keys(env.str("RECORD_KEYS", f"demo:{'00' * environment.LEAST_KEY_BYTES}"))
RECORD_KEY = environment.record_key(RECORD_KEYS, env.str("RECORD_KEY", ""))
LOGGING = observability_logging.configure(development=True)
