"""The demo as a newcomer runs it: interrupted without mercy, started again, and never two at once."""

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from services.embedded.places import AlreadyRunning, take
from services.embedded.postgres import Postgres

ROOT = Path(__file__).parents[2]
pytestmark = [pytest.mark.processes, pytest.mark.timeout(480)]


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


class Demo:
    """A running demo, its output read as it comes."""

    def __init__(self, folder, port, **more):
        kept = {name: value for name, value in os.environ.items() if name not in {"DATABASE_URL", "REDIS_URL"}}
        environment = {**kept, "BACKPULL_DATA": str(folder), "PORT": str(port), "PYTHONUNBUFFERED": "1", **more}
        self.output = folder.parent / f"output-{time.monotonic_ns()}.txt"
        self.file = self.output.open("wb")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "services.demo.running"],
            cwd=ROOT,
            env=environment,
            stdout=self.file,
            stderr=subprocess.STDOUT,
        )

    @property
    def said(self):
        return self.output.read_text(errors="replace")

    def wait_for(self, words, seconds=200):
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            if words in self.said:
                return
            assert self.process.poll() is None, self.said[-3000:]
            time.sleep(0.1)
        raise AssertionError(f"{words!r} did not come:\n{self.said[-3000:]}")

    def wait(self, seconds=200):
        code = self.process.wait(timeout=seconds)
        self.file.close()
        return code

    def children(self):
        """Ids of the processes it started, by what they run."""
        found = {}
        for entry in Path("/proc").iterdir():
            if not entry.name.isdecimal():
                continue
            try:
                parent = int((entry / "stat").read_text().rsplit(")", 1)[1].split()[1])
                command = (entry / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
            except (OSError, ValueError, IndexError):
                continue
            if parent == self.process.pid:
                found[int(entry.name)] = command
        return found


def gone(pids, seconds=20):
    """Whether these processes end; one that has ended and was not yet collected by its parent has ended."""
    until = time.monotonic() + seconds
    while left := [pid for pid in pids if _runs(pid)]:
        if time.monotonic() > until:
            return False
        time.sleep(0.1)
    return not left


def _runs(pid):
    try:
        return (Path("/proc") / str(pid) / "stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False


@pytest.fixture
def place(tmp_path):
    folder = tmp_path / "data"
    yield folder
    for output in tmp_path.glob("output-*.txt"):
        found = re.search(r"data directory (/var/tmp/backpull-[0-9a-f]+)", output.read_text(errors="replace"))
        if found:
            shutil.rmtree(found[1], ignore_errors=True)


def settings_of(said):
    line = next(line for line in said.splitlines() if "verify_ledger" in line)
    return dict(re.findall(r"(\w+_URL)='([^']+)'", line))


def verify_ledger(said):
    environment = {
        **os.environ,
        **settings_of(said),
        "DJANGO_SETTINGS_MODULE": "services.settings.development",
    }
    return subprocess.run(
        [sys.executable, "manage.py", "verify_ledger"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_killed_in_the_middle_it_goes_on_where_it_stopped_and_the_ledger_holds(place):
    port = free_port()
    first = Demo(place, port)
    first.wait_for("5. What is measured")
    doomed = [pid for pid, command in first.children().items() if "gunicorn" in command or "celery" in command]
    assert len(doomed) == 3
    for pid in [*doomed, first.process.pid]:
        os.kill(pid, signal.SIGKILL)
    first.wait()

    second = Demo(place, port)
    second.wait_for("Serving until Ctrl-C.")
    assert "it goes on where it stopped" in second.said
    assert second.said.count("Every step was as it should be") == 1
    told = [int(one) for one in re.findall(r"^(\d+)\. .+\n-{5,}$", second.said, re.MULTILINE)]
    assert told == list(range(1, 12))
    assert "once more: 2 known" in second.said
    assert "the record is as it was signed" in second.said
    found = verify_ledger(second.said)
    assert (found.returncode, "The ledger holds" in found.stdout) == (0, True), found.stdout + found.stderr

    third = Demo(place, free_port())
    assert third.wait(30) == 1
    assert "A demo is running already" in third.said

    worker = next(pid for pid, command in second.children().items() if "worker" in command)
    os.kill(worker, signal.SIGKILL)
    second.wait_for("worker ended and is started again")
    started = list(second.children())
    second.process.send_signal(signal.SIGINT)
    assert second.wait(150) == 130
    assert "Stopped." in second.said
    assert gone(started), second.children()

    once = Demo(place, port, ONCE="1")
    assert once.wait() == 0
    assert "First run today" not in once.said
    assert "it goes on where it stopped" not in once.said


def test_a_taken_port_is_said_with_the_remedy(place):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        demo = Demo(place, port)
        assert demo.wait(30) == 1
    assert f"Port {port} is taken by another program. Choose another: make demo PORT={port + 1}" in demo.said


def test_a_folder_that_cannot_be_written_is_said_with_the_remedy():
    environment = {**os.environ, "BACKPULL_DATA": "/proc/backpull/data", "PORT": str(free_port())}
    found = subprocess.run(
        [sys.executable, "-m", "services.demo.running"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert found.returncode == 1
    assert "cannot be written" in found.stdout
    assert "BACKPULL_DATA" in found.stdout


def test_a_port_that_is_none_is_refused(place):
    demo = Demo(place, "eighty")
    assert demo.wait(30) == 1
    assert "PORT=eighty is no port" in demo.said


def test_a_cluster_that_was_left_half_made_is_made_anew(tmp_path):
    place = take(tmp_path / "data")
    try:
        postgres = Postgres(place, hasty=True)
        (postgres.data / "base").mkdir(parents=True)
        postgres.data.with_name(postgres.data.name + "-half").mkdir()
        postgres.start()
        try:
            assert "postgres" in postgres.databases()
            assert postgres.version == "18"
        finally:
            postgres.stop()
        (postgres.data / "postmaster.pid").write_text("1\n/nowhere\n")
        postgres.start()
        postgres.stop()
    finally:
        place.release()
        shutil.rmtree(place.data, ignore_errors=True)


def test_a_data_directory_is_held_by_one(tmp_path):
    place = take(tmp_path / "data")
    try:
        with pytest.raises(AlreadyRunning):
            take(tmp_path / "data")
    finally:
        place.release()
        shutil.rmtree(place.data, ignore_errors=True)
