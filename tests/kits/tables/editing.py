"""Somebody's hand that adds, changes and takes out rows of tables over HTTP."""

import uuid
from dataclasses import dataclass
from typing import Any

from rest_framework.test import APIClient

LATEST = "latest"


@dataclass
class Editor:
    client: APIClient

    def get(self, path: str, status: int = 200) -> Any:
        return self._body(self.client.get(f"/api/v1/{path}"), status)

    def post(self, path: str, body: Any, status: int = 201) -> Any:
        headers = {"Idempotency-Key": str(uuid.uuid4())}
        return self._body(self.client.post(f"/api/v1/{path}", body, format="json", headers=headers), status)

    def patch(self, path: str, body: Any, status: int = 200, seen: str | None = LATEST) -> Any:
        answer = self.client.patch(f"/api/v1/{path}", body, format="json", headers=self._if_match(path, seen))
        return self._body(answer, status)

    def delete(self, path: str, status: int = 204) -> Any:
        return self._body(self.client.delete(f"/api/v1/{path}", headers=self._if_match(path, LATEST)), status)

    def _if_match(self, path: str, seen: str | None) -> dict[str, str]:
        if seen is None:
            return {}
        return {"If-Match": self.client.get(f"/api/v1/{path}").headers["ETag"] if seen == LATEST else seen}

    def _body(self, answer: Any, status: int) -> Any:
        assert answer.status_code == status, answer.content
        return answer.json() if answer.content else None
