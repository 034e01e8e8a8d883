"""What the code declares stands in the docs, and the description of the API is current."""

import re
from pathlib import Path

import pytest
from django.core.management import call_command
from drf_spectacular.generators import SchemaGenerator

from services.api.refusals import known_refusals

ROOT = Path(__file__).parents[2]


def test_refusals_and_changes_are_written_down():
    call_command("write_reference", check=True)


def test_every_refusal_says_what_it_means_and_ends_its_sentence():
    for code, refusal in known_refusals().items():
        words = (refusal.__doc__ or "").strip()
        assert len(words) > 40, code
        assert words.endswith("."), code
        assert re.fullmatch(r"[a-z][a-z0-9-]+", code), code


def test_files_that_the_readme_names_exist():
    text = (ROOT / "README.md").read_text() + (ROOT / "DEVELOPERS.md").read_text()
    named = set(re.findall(r"`((?:[a-z_]+/)+[a-z_]+\.(?:py|md|yaml))`", text))
    assert named
    assert [one for one in named if not (ROOT / one).exists()] == []


def test_targets_that_the_docs_name_exist():
    text = (ROOT / "README.md").read_text() + (ROOT / "DEVELOPERS.md").read_text()
    makefile = (ROOT / "Makefile").read_text()
    for target in set(re.findall(r"(?:`|    )make ([a-z-]+)", text)):
        assert re.search(rf"^{target}:|^\.PHONY:.*\b{target}\b", makefile, flags=re.M), target


def test_every_setting_that_is_read_is_written_down():
    page = (ROOT / "docs" / "settings.md").read_text()
    files = [
        *(ROOT / "services" / "settings").glob("*.py"),
        ROOT / "services/worker/celery_app.py",
        ROOT / "services/observability/metrics.py",
        ROOT / "deploy/gunicorn.conf.py",
    ]
    pattern = r"""(?:env\.\w+|environ\.get|required|setdefault)\(\s*"([A-Z_]+)\""""
    read = {name for one in files for name in re.findall(pattern, one.read_text())}
    assert {"SECRET_KEY", "DATABASE_URL", "WEB_WORKERS"} <= read
    assert {name for name in read if f"`{name}`" not in page} == set()


@pytest.fixture(scope="module")
def schema():
    return SchemaGenerator().get_schema(request=None, public=True)


def operations(schema):
    for path, methods in schema["paths"].items():
        for method, operation in methods.items():
            yield f"{method.upper()} {path}", operation


def test_every_operation_is_described(schema):
    for name, operation in operations(schema):
        assert operation.get("summary"), name
        assert operation.get("tags"), name
        assert operation["operationId"], name


def test_operations_are_named_once(schema):
    names = [operation["operationId"] for _, operation in operations(schema)]
    assert len(names) == len(set(names))


def test_every_request_body_has_an_example_where_it_is_not_empty(schema):
    lacking = []
    for name, operation in operations(schema):
        body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
        reference = body.get("schema", {}).get("$ref", "").rsplit("/", 1)[-1]
        shape = schema["components"]["schemas"].get(reference, {})
        if shape.get("required") and "examples" not in body:
            lacking.append(name)
    assert lacking == []


def test_every_operation_answers_problems_in_one_shape(schema):
    for name, operation in operations(schema):
        if not name.split()[1].startswith("/api/v1/"):
            continue
        refused = [one for code, one in operation["responses"].items() if code.startswith("4")]
        assert refused, name
        for one in refused:
            assert "application/problem+json" in one["content"], name
