"""How often one principal may call, counted in Valkey for all processes together.

One script counts and decides in one step (a leaky bucket: GCRA), so no request slips through between reading and
writing. When Valkey is away each process counts for itself, never without a limit.
"""

import threading
import time
from functools import cache
from typing import Any

import redis
from django.conf import settings
from django.http import HttpRequest
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

SCRIPT = """
local now = redis.call('TIME')
local at = now[1] + now[2] / 1000000
local gap = tonumber(ARGV[1])
local burst = tonumber(ARGV[2])
local due = tonumber(redis.call('GET', KEYS[1]) or '0')
if due < at then due = at end
local ahead = due - at
if ahead > burst then return {0, tostring(ahead - burst), 0} end
redis.call('SET', KEYS[1], tostring(due + gap), 'EX', math.ceil(burst + gap) + 1)
return {1, '0', math.floor((burst - ahead) / gap)}
"""

_local: dict[str, float] = {}
_lock = threading.Lock()


@cache
def _client() -> "redis.Redis":
    return redis.Redis.from_url(settings.REDIS_URL, socket_timeout=0.25, socket_connect_timeout=0.25)


def take(key: str, per_minute: int) -> tuple[bool, float, int]:
    """Count one call: (allowed, seconds to wait, calls left in the burst). The burst is one minute's worth."""
    gap, burst = 60.0 / per_minute, 60.0 - 60.0 / per_minute
    try:
        allowed, wait, left = _client().eval(SCRIPT, 1, f"rate:{key}", str(gap), str(burst))
        return bool(allowed), float(wait), int(left)
    except redis.RedisError:
        return _take_here(key, gap, burst)


def _take_here(key: str, gap: float, burst: float) -> tuple[bool, float, int]:
    now = time.monotonic()
    with _lock:
        if len(_local) > 10_000:
            _local.clear()
        due = max(_local.get(key, 0.0), now)
        if due - now > burst:
            return False, due - now - burst, 0
        _local[key] = due + gap
        return True, 0.0, int((burst - (due - now)) / gap)


class PrincipalThrottle(BaseThrottle):
    """The limit of every API request, by principal (or by address before anyone is known)."""

    def __init__(self) -> None:
        self._wait = 0.0

    def allow_request(self, request: Request, view: Any) -> bool:
        limit = settings.RATE_LIMIT_PER_MINUTE
        if not limit:
            return True
        who = str(request.user.pk) if request.user is not None else f"address:{self.get_ident(request)}"
        allowed, self._wait, left = take(who, limit)
        request._request.META["rate_limit"] = (limit, left, self._wait)
        return allowed

    def wait(self) -> float:
        return max(1.0, self._wait)


def sign_in_allowed(request: HttpRequest, login: str) -> bool:
    """Whether another attempt to sign in is due for this login and for this address."""
    limit = settings.SIGN_IN_LIMIT_PER_MINUTE
    if not limit:
        return True
    address = PrincipalThrottle().get_ident(Request(request))
    return take(f"sign-in:{login.lower()[:80]}", limit)[0] and take(f"sign-in-from:{address}", limit * 6)[0]
