"""Bodies that cannot be taken are refused as problems, with the place where there is one."""

import pytest

from tests.world import gather_cast

pytestmark = pytest.mark.django_db


def send(content, status, media="application/json"):
    client = gather_cast().client("chief")
    headers = {"Idempotency-Key": "k"}
    answer = client.generic("POST", "/api/v1/principals", content, content_type=media, headers=headers)
    assert answer.status_code == status, answer.content
    assert answer.headers["Content-Type"] == "application/problem+json"
    return answer.json()


def test_a_body_larger_than_is_taken(settings):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    assert send(b'{"login": "' + b"x" * 1000 + b'"}', 413)["code"] == "too-large"


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"{", "not JSON"),
        (b'{"login": "\xff"}', "not JSON"),
        (rb'{"login": "a\u0000"}', "NUL"),
        (rb'{"login": [{"a\u0000": 1}]}', "NUL"),
        (b'{"login": ' + b"[" * 50 + b"]" * 50 + b"}", "nested deeper"),
        (b'{"login": ' + b"[" * 40 + b"7" + b"]" * 40 + b"}", "nested deeper"),
        (b'{"login": ' + b"[" * 50_000, "not JSON"),
    ],
)
def test_a_body_that_cannot_be_read(content, words):
    assert words in send(content, 400)["detail"]


@pytest.mark.parametrize(
    "content",
    [b'{"login": ' + b"[" * 39 + b"7" + b"]" * 39 + b"}", b'{"login": ' + b"[" * 40 + b"]" * 40 + b"}",
     rb'{"login": ["a\\u0000"]}'],
)  # fmt: skip
def test_a_body_that_can_just_be_read(content):
    send(content, 422)


def test_a_body_of_another_type():
    assert send(b"login=ingrid", 415, "application/x-www-form-urlencoded")["code"] == "unsupported-media-type"


def test_a_misspelt_field_is_named_with_the_nearest_known():
    refused = send(b'{"login": "ingrid", "nmae": "Ingrid Fell"}', 422)
    assert {"#/nmae"} <= {one["pointer"] for one in refused["errors"]}
    assert "Did you mean 'name'?" in str(refused["errors"])


@pytest.mark.parametrize("content", [b"[]", b'"a"', b"7", b"null"])
def test_a_body_that_is_no_object(content):
    send(content, 422)
