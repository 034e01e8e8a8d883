"""What the code declares stands in the docs, and the description of the API is current."""

import ast
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


OF_THE_SYSTEM = {"PATH", "HOME", "LANG", "TZ", "TMPDIR"}
ENVIRONMENTS = {"env", "environ", "environment"}


def settings_of_python(text: str) -> set[str]:
    """Names that a module reads from the environment, or from a mapping called so."""
    found: set[object] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
            named, asked = node.func.value, node.args[0]
        elif isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Load):
            named, asked = node.value, node.slice
        elif isinstance(node, ast.Compare) and isinstance(node.ops[0], (ast.In, ast.NotIn)):
            named, asked = node.comparators[0], node.left
        else:
            continue
        if getattr(named, "attr", getattr(named, "id", "")) in ENVIRONMENTS and isinstance(asked, ast.Constant):
            found.add(asked.value)
    return {str(name) for name in found} - OF_THE_SYSTEM


def settings_of_shape(text: str) -> set[str]:
    """Names that a compose file or the edge's file takes from the environment."""
    return set(re.findall(r"(?:\$\{|\{\$)([A-Z_]+)", text))


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (settings_of_python, 'env.int("A_NAME", 2)'),
        (settings_of_python, "os.environ.get('A_NAME') or 1"),
        (settings_of_python, "f\"{os.environ['A_NAME']}\""),
        (settings_of_python, 'if "A_NAME" not in environment: pass'),
        (settings_of_python, 'environment.required("A_NAME")'),
        (settings_of_shape, "KEY: ${A_NAME:?set it}"),
        (settings_of_shape, "KEY: ${OTHER:-${A_NAME}}"),
        (settings_of_shape, "respond {$A_NAME:8081}"),
    ],
)
def test_readings_of_the_environment_are_recognised(read, text):
    assert "A_NAME" in read(text)


def test_every_setting_that_is_read_is_written_down_and_no_other():
    folders = ("assets", "kits", "jobs", "services", "deploy")
    python = [ROOT / "manage.py", *(one for folder in folders for one in (ROOT / folder).rglob("*.py"))]
    read = {name for one in python for name in settings_of_python(one.read_text())}
    for one in ("docker-compose.yml", "deploy/Caddyfile"):
        read |= settings_of_shape((ROOT / one).read_text())
    written = set(re.findall(r"`([A-Z_]{3,})`", (ROOT / "docs" / "settings.md").read_text()))
    assert {"SECRET_KEY", "DATABASE_URL", "WEB_WORKERS", "SITE_ADDRESS", "ONCE"} <= read
    assert (read - written, written - read) == (set(), set())


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
