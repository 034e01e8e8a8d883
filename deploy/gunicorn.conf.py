"""The web server's settings. Everything that differs between installations is a setting of the environment."""

import os
from pathlib import Path
from typing import Any

from prometheus_client import multiprocess

from services.observability import logging as observability_logging

bind = f"{os.environ.get('WEB_HOST', '0.0.0.0')}:{os.environ.get('WEB_PORT', '8000')}"  # noqa: S104 - in a container
workers = int(os.environ.get("WEB_WORKERS", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
worker_class = "gthread"
# The code is read once and shared; connections are opened by each worker when it first needs one.
preload_app = True
timeout = 60
graceful_timeout = 25
keepalive = 5
max_requests = 20_000
max_requests_jitter = 2_000
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108 - gunicorn's heartbeat, not data
accesslog = None
_lines = observability_logging.configure(
    development=not os.environ.get("DJANGO_SETTINGS_MODULE", "").endswith("production")
)
logconfig_dict = {
    **_lines,
    "loggers": {
        name: {"handlers": [], "level": "INFO", "propagate": True} for name in ("gunicorn.error", "gunicorn.access")
    },
}
forwarded_allow_ips = os.environ.get("FORWARDED_ALLOW_IPS", "127.0.0.1")


def child_exit(server: Any, worker: Any) -> None:
    """What a dead worker counted stays; its live gauges go."""
    if os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        multiprocess.mark_process_dead(worker.pid)
