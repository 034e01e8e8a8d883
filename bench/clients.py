"""Many clients at once: processes with threads, each with a connection of its own, beginning together."""

import importlib
import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

# What a client does over and over: told which turn it is, it does one thing.
Doing = Callable[[int], None]


def done_in(seconds: float, what: str, arguments: Any, *, processes: int, threads: int) -> int:
    """How often all of them together did what ``what`` makes (``module:function``, called with the arguments and the
    client's number) in so many seconds."""
    context = multiprocessing.get_context("spawn")
    ready, counts = context.Barrier(processes), context.Queue()
    started = [
        context.Process(target=_process, args=(what, arguments, place, threads, seconds, ready, counts))
        for place in range(processes)
    ]
    for one in started:
        one.start()
    total = sum(counts.get(timeout=seconds + 120) for _ in started)
    for one in started:
        one.join()
    return total


def _process(what: str, arguments: Any, place: int, threads: int, seconds: float, ready: Any, counts: Any) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "services.settings.testing")
    importlib.import_module("django").setup()
    module, _, name = what.partition(":")
    make = getattr(importlib.import_module(module), name)
    together = threading.Barrier(threads + 1)

    def client(number: int) -> int:
        do: Doing = make(arguments, number)
        turns = 0
        together.wait()
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            do(turns)
            turns += 1
        return turns

    with ThreadPoolExecutor(threads) as pool:
        clients = [pool.submit(client, place * threads + one) for one in range(threads)]
        ready.wait()
        together.wait()
        counts.put(sum(one.result() for one in clients))
