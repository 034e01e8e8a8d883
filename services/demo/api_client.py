"""Calling the API as anybody else would: HTTP, a token, a key for every post, the tag of what was seen."""

import json
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

PATIENCE = 60.0


class NotAsItShouldBe(Exception):
    """An answer was not the one that the account needs."""


@dataclass
class Answer:
    """What came back."""

    status: int
    body: Any
    headers: Mapping[str, str]
    raw: bytes = b""


@dataclass
class Api:
    """One caller. ``run`` makes the keys of posts repeatable: the same step of the same run has the same key."""

    address: str
    token: str
    run: uuid.UUID
    name: str = ""
    seen: dict[str, str] = field(default_factory=dict)

    def get(self, path: str, **query: Any) -> Any:
        """A thing or a page. Raises `NotAsItShouldBe` unless it is 200."""
        answer = self.call("GET", path + (f"?{urlencode(query)}" if query else ""))
        if answer.status != 200:
            raise NotAsItShouldBe(f"GET {path}: {answer.status} {_problem(answer)}")
        tag = {name.lower(): value for name, value in answer.headers.items()}.get("etag")
        if tag:
            self.seen[path] = tag
        return answer.body

    def all(self, path: str, **query: Any) -> Iterator[dict[str, Any]]:
        """Every row of a list, page by page."""
        page = self.get(path, limit=200, **query)
        while True:
            yield from page["results"]
            if not page["next"]:
                return
            page = self.get(page["next"].removeprefix("/api/v1/"))

    def one(self, path: str, **query: Any) -> dict[str, Any]:
        """The only row that matches. Raises `NotAsItShouldBe`."""
        rows = self.get(path, **query)["results"]
        if len(rows) != 1:
            raise NotAsItShouldBe(f"GET {path} {query}: {len(rows)} rows where one was expected")
        return dict(rows[0])

    def post(self, path: str, body: Any = None, *, key: str, seen: str = "", status: int | None = None) -> Any:
        """Do something. ``seen`` names the path whose tag is sent as If-Match. Raises `NotAsItShouldBe` where the
        answer has another status (2xx if none is named)."""
        headers = {"Idempotency-Key": str(uuid.uuid5(self.run, key))}
        if seen:
            self.get(seen)
            headers["If-Match"] = self.seen[seen]
        answer = self.call("POST", path, json.dumps(body or {}).encode(), "application/json", headers)
        right = 200 <= answer.status < 300 if status is None else answer.status == status
        if not right:
            raise NotAsItShouldBe(f"POST {path}: {answer.status} {_problem(answer)}")
        return answer.body

    def hand_in(self, kind: str, name: str, content: bytes, media_type: str) -> dict[str, Any]:
        """Hand a file in; the background run that loads it is in the answer."""
        headers = {"Idempotency-Key": str(uuid.uuid5(self.run, f"file {name}"))}
        query = urlencode({"kind": kind, "name": name})
        answer = self.call("POST", f"bulk-loads?{query}", content, media_type, headers)
        if answer.status != 202:
            raise NotAsItShouldBe(f"{name}: {answer.status} {_problem(answer)}")
        return dict(answer.body)

    def wait_for_run(self, run: str) -> dict[str, Any]:
        """The run once it has ended. Raises `NotAsItShouldBe` where it failed or does not end."""
        until = time.monotonic() + PATIENCE * 2
        pause = 0.05
        while time.monotonic() < until:
            found = self.get(f"background-runs/{run}")
            if found["state"] == "done":
                return dict(found)
            if found["state"] in {"failed", "cancelled"}:
                raise NotAsItShouldBe(f"the run {found['kind']} {found['state']}: {found['last_error']}")
            time.sleep(pause)
            pause = min(pause * 1.5, 0.5)
        raise NotAsItShouldBe(f"the run {run} did not end")

    def call(
        self,
        method: str,
        path: str,
        data: bytes | None = None,
        media_type: str = "",
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        """One request. A server that is away, busy or asks for patience is asked again until the patience is over."""
        whole = {"Authorization": f"Bearer {self.token}", "Accept": "application/json", **(headers or {})}
        if data is not None:
            whole["Content-Type"] = media_type
        until = time.monotonic() + PATIENCE
        while True:
            request = urllib.request.Request(f"{self.address}/api/v1/{path}", data, whole, method=method)
            try:
                with urllib.request.urlopen(request, timeout=60) as answered:
                    raw = answered.read()
                    return Answer(answered.status, _body(raw), dict(answered.headers), raw)
            except urllib.error.HTTPError as error:
                answer = Answer(error.code, _body(error.read()), dict(error.headers))
                if answer.status not in {429, 503} or time.monotonic() > until:
                    return answer
            except (urllib.error.URLError, ConnectionError, TimeoutError) as error:
                if time.monotonic() > until:
                    raise NotAsItShouldBe(f"{method} {path}: the server does not answer ({error})") from error
            time.sleep(0.5)


def _body(raw: bytes) -> Any:
    try:
        return json.loads(raw) if raw else None
    except (json.JSONDecodeError, UnicodeDecodeError):
        return raw.decode(errors="replace")[:300]


def _problem(answer: Answer) -> str:
    if isinstance(answer.body, dict):
        return f"{answer.body.get('code', '')}: {answer.body.get('detail', '')} {answer.body.get('errors', '')}"
    return str(answer.body)
