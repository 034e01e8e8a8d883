"""The production shape, as far as it can be proved without a container engine: files parse, settings hold, and every
command of the compose file that is ours runs against real servers as the roles it would run as."""

import json
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import psycopg
import pytest
import yaml
from django.core.management import CommandError, call_command
from django.db import connection
from psycopg import sql

ROOT = Path(__file__).parents[2]
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
OURS = ("migrate", "web", "worker", "beat")
BIN = Path(sys.executable).parent


def test_every_service_has_what_it_needs():
    services = COMPOSE["services"]
    assert set(services) == {"postgres", "valkey", "migrate", "web", "worker", "beat", "edge"}
    for name in ("postgres", "valkey", "web", "worker", "edge"):
        assert services[name]["healthcheck"]["test"], name
    for name in OURS:
        assert services[name]["security_opt"] == ["no-new-privileges:true"], name
        assert services[name]["read_only"] is True, name
        assert services[name]["environment"]["DATABASE_URL"].startswith("postgresql://backpull_app:"), name
    assert services["migrate"]["environment"]["MIGRATION_DATABASE_URL"].startswith("postgresql://backpull_owner:")
    assert "MIGRATION_DATABASE_URL" not in services["web"]["environment"]


def test_no_secret_is_baked_in():
    text = (ROOT / "docker-compose.yml").read_text() + (ROOT / "Dockerfile").read_text()
    for line in text.splitlines():
        for name in ("PASSWORD:", "SECRET_KEY:", "RECORD_KEYS:"):
            if name in line and not line.lstrip().startswith("#"):
                assert "${" in line, line
    docker = (ROOT / "Dockerfile").read_text()
    assert "USER backpull" in docker
    assert "--require-hashes" in docker


def test_files_that_the_shape_names_exist():
    assert (ROOT / "deploy" / "roles.sh").stat().st_mode & 0o111
    for service in COMPOSE["services"].values():
        for volume in service.get("volumes", []):
            source = volume.split(":")[0]
            assert source in COMPOSE["volumes"] or (ROOT / source).exists(), volume
    for copied in re.findall(r"^COPY (?!--)(\S+)", (ROOT / "Dockerfile").read_text(), flags=re.M):
        assert (ROOT / copied).exists(), copied


def test_secrets_beside_the_compose_file_enter_no_image():
    assert {".env", ".env.*", ".git", ".data"} <= set((ROOT / ".dockerignore").read_text().split())


def test_the_edge_knows_each_replica_of_the_web_service():
    replicas = COMPOSE["services"]["web"]["deploy"]["replicas"]
    upstreams = re.findall(r"backpull-web-\d+:8000", COMPOSE["services"]["edge"]["environment"]["UPSTREAMS"])
    assert COMPOSE["name"] == "backpull"
    assert upstreams == [f"backpull-web-{one}:8000" for one in range(1, replicas + 1)]


@pytest.fixture(scope="module")
def installation(clones, tmp_path_factory):
    """A database as the migrate service leaves it, and the environment of the application's services."""
    tmp_path = tmp_path_factory.mktemp("installation")
    server, name = clones.server, f"{clones.name}_installed"
    host, port = server["HOST"], server["PORT"] or ""
    with clones.admin() as admin:
        admin.execute(
            sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(sql.Identifier(name), sql.Identifier(clones.template))
        )
    address = "postgresql://{role}@" + (f":{port}" if port else "") + f"/{name}?host={host}"
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "services.settings.production",
        "SECRET_KEY": "for-this-test-only-" + "0" * 50,
        "RECORD_KEYS": "test:" + "00" * 32,
        "PUBLIC_ADDRESS": "https://pumps.example.org",
        "ALLOWED_HOSTS": "pumps.example.org,localhost",
        "SECURE_SSL_REDIRECT": "true",
        "DATABASE_URL": address.format(role="backpull_app"),
        "APPLICATION_ROLE": "backpull_app",
        "BEAT_SCHEDULE_FILE": str(tmp_path / "beat"),
        "PROMETHEUS_MULTIPROC_DIR": str(tmp_path),
        "WEB_HOST": "127.0.0.1",
        "WEB_WORKERS": "1",
    }
    owner = {**environment, "MIGRATION_DATABASE_URL": address.format(role=server["USER"])}
    script = COMPOSE["services"]["migrate"]["command"][2]
    subprocess.run(
        ["sh", "-ec", script.replace("python manage.py", f"{sys.executable} manage.py")],
        cwd=ROOT,
        env=owner,
        check=True,
        capture_output=True,
        timeout=290,
    )
    subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--no-input", "-v", "0"],
        cwd=ROOT,
        env=environment,
        check=True,
        timeout=280,
    )
    yield environment
    with clones.admin() as admin:
        admin.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


def start(environment, command):
    whole = [str(BIN / command[0]), *command[1:]]
    return subprocess.Popen(whole, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)


def stop(process):
    process.send_signal(signal.SIGTERM)
    try:
        return process.wait(timeout=30)
    except subprocess.TimeoutExpired:
        process.kill()
        raise


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def wait_for(look, seconds=40):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        found = look()
        if found:
            return found
        time.sleep(0.3)
    raise AssertionError("it did not come up in time")


def open_address(address, **headers):
    asked = urllib.request.Request(address, headers=headers)  # noqa: S310 - an address of this very machine
    # The edge's certificate for localhost is signed by its own authority, made a moment ago.
    return urllib.request.urlopen(asked, timeout=10, context=ssl._create_unverified_context())  # noqa: S310, S323


def status_of(address, **headers):
    try:
        with open_address(address, **headers) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        return error.code
    except OSError:
        return None


@pytest.mark.processes
def test_the_web_server_serves_as_the_application_role(installation):
    port = free_port()
    web = start({**installation, "WEB_PORT": str(port)}, COMPOSE["services"]["web"]["command"])
    try:
        address = f"http://127.0.0.1:{port}"
        wait_for(lambda: status_of(f"{address}/readyz") == 200)
        assert status_of(f"{address}/healthz") == 200
        outside = {"Host": "pumps.example.org", "X-Forwarded-Proto": "https", "X-Request-ID": "erp-4711-abc"}
        assert status_of(f"{address}/sign-in", **outside) == 200
        assert status_of(f"{address}/api/docs/", **outside) == 200
        assert status_of(f"{address}/static/web/backpull.css", **outside) == 200
        assert status_of(f"{address}/api/v1/me", **outside) == 401
        assert status_of(f"{address}/metrics", **outside) == 200
    finally:
        assert stop(web) == 0
    lines = [json.loads(line) for line in web.stdout.read().splitlines()]
    assert lines, "every line of the web server is a JSON object, gunicorn's own too"
    assert {(one["status"], one["request_id"]) for one in lines if one.get("path") == "/api/v1/me"} == {
        (401, "erp-4711-abc")
    }


@pytest.mark.processes
def test_the_edge_ends_tls_hides_the_inside_and_outlives_a_web_server(installation, tmp_path):
    ports = [free_port() for _ in range(4)]
    webs = [start({**installation, "WEB_PORT": str(port)}, COMPOSE["services"]["web"]["command"]) for port in ports[:2]]
    site = f"localhost:{ports[2]}"
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(tmp_path),
        "SITE_ADDRESS": site,
        "UPSTREAMS": " ".join(f"127.0.0.1:{port}" for port in ports[:2]),
        "EDGE_HEALTH_PORT": str(ports[3]),
    }
    # The plain port that a site of its own would also take belongs to the machine: here the edge keeps to its TLS one.
    whole = tmp_path / "Caddyfile"
    text = (ROOT / "deploy" / "Caddyfile").read_text()
    whole.write_text(text.replace("admin off", "admin off\n\tauto_https disable_redirects\n\tskip_install_trust", 1))
    edge = start(environment, ["caddy", "run", "--adapter", "caddyfile", "--config", str(whole)])
    address = f"https://{site}"
    try:
        wait_for(lambda: status_of(f"http://127.0.0.1:{ports[3]}") == 200)
        for port in ports[:2]:
            wait_for(lambda at=port: status_of(f"http://127.0.0.1:{at}/readyz") == 200)
        wait_for(lambda: status_of(f"{address}/healthz") == 200)
        spoofed = {"X-Forwarded-Proto": "http", "X-Forwarded-For": "10.0.0.1", "X-Request-ID": "erp-4711-abc"}
        with open_address(f"{address}/sign-in", **spoofed, **{"Accept-Encoding": "gzip"}) as answer:
            assert (answer.status, answer.headers["X-Request-ID"]) == (200, "erp-4711-abc")
            assert answer.headers["Content-Encoding"] == "gzip"
            assert "Secure" in answer.headers["Set-Cookie"]
        for hidden in ("/metrics", "/readyz"):
            assert status_of(f"{address}{hidden}") == 404
        assert stop(webs[0]) == 0
        assert {status_of(f"{address}/healthz") for _ in range(20)} == {200}
        assert stop(webs[1]) == 0
        with pytest.raises(urllib.error.HTTPError) as refused:
            open_address(f"{address}/healthz")
        body = json.loads(refused.value.read())
        assert refused.value.code == body["status"]
        assert body["status"] in {502, 503}
        assert refused.value.headers["Content-Type"] == "application/problem+json"
    finally:
        for one in (edge, *webs):
            stop(one)


KICK = """
import django; django.setup()
from services.api.request_context import request_id
from services.work.recording import kick
request_id.set("erp-4711-abc")
kick("kits.tasks.run_replenishment", "no-id-at-all")
"""


@pytest.mark.processes
def test_the_worker_answers_and_the_clock_ticks(installation):
    worker = start(installation, COMPOSE["services"]["worker"]["command"])
    beat = start(installation, COMPOSE["services"]["beat"]["command"])
    ping = COMPOSE["services"]["worker"]["healthcheck"]["test"][1].split()

    def answers():
        found = subprocess.run(
            [str(BIN / ping[0]), *ping[1:]], cwd=ROOT, env=installation, capture_output=True, timeout=60, check=False
        )
        return found.returncode == 0 and b"pong" in found.stdout

    try:
        wait_for(answers, seconds=70)
        assert beat.poll() is None
        subprocess.run([sys.executable, "-c", KICK], cwd=ROOT, env=installation, check=True, timeout=60)
        time.sleep(2)
    finally:
        for one in (beat, worker):
            stop(one)
    told = [line for line in worker.stdout.read().decode().splitlines() if "no-id-at-all" in line]
    assert told, "the worker says that it cannot do it"
    assert {json.loads(line)["request_id"] for line in told if line.startswith("{")} == {"erp-4711-abc"}


@pytest.mark.processes
def test_production_settings_pass_djangos_deployment_check(installation):
    found = subprocess.run(
        [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
        cwd=ROOT,
        env=installation,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert found.returncode == 0, found.stderr


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE kits_movement SET quantity = 9",
        "DELETE FROM kits_movement",
        "TRUNCATE kits_movement",
        "UPDATE changes_change SET kind = 'x'",
        "DELETE FROM assets_runninghours",
        "TRUNCATE assets_site CASCADE",
        "DROP TABLE assets_site",
        "CREATE TABLE anything (id int)",
        "ALTER TABLE kits_movement DISABLE TRIGGER ALL",
    ],
)
def test_the_application_role_can_neither_change_ledgers_nor_the_schema(application_role_connection, statement):
    with pytest.raises(psycopg.errors.InsufficientPrivilege):
        application_role_connection.execute(sql.SQL(statement))


def test_the_application_role_reads_and_writes_what_it_needs(application_role_connection):
    opened = application_role_connection
    opened.execute("INSERT INTO assets_maker (id, code, name, version) VALUES (gen_random_uuid(), 'a', 'b', 1)")
    opened.execute("UPDATE assets_maker SET name = 'c'")
    assert opened.execute("SELECT name FROM assets_maker").fetchone() == ("c",)
    opened.execute("SELECT nextval('kits_order_number')")


def test_granting_again_changes_nothing_and_a_missing_role_is_named(transactional_db, settings, capsys):
    call_command("grant_application_role")
    call_command("grant_application_role")
    assert "may only add to" in capsys.readouterr().out
    settings.APPLICATION_ROLE = "nobody_made_this"
    with pytest.raises(CommandError, match="There is no role 'nobody_made_this'"):
        call_command("grant_application_role")


def test_tables_of_a_later_migration_are_reached_too(application_role_connection):
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE made_later (id int)")
    assert application_role_connection.execute("SELECT count(*) FROM made_later").fetchone() == (0,)


def test_a_role_from_which_nothing_can_be_kept_is_refused(transactional_db, settings):
    settings.APPLICATION_ROLE = connection.settings_dict["USER"]
    with pytest.raises(CommandError, match="Name a role of its own in APPLICATION_ROLE"):
        call_command("grant_application_role")
