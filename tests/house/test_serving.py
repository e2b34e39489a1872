"""`manage.py serve`, as `./run` calls it: a real process on a real port, with a data folder of its own."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request

import pytest
from django.core.management import CommandError, call_command

from tests.services import ROOT


@pytest.fixture
def port():
    with socket.create_server(("127.0.0.1", 0)) as free:
        return free.getsockname()[1]


@pytest.fixture
def serve(tmp_path):
    """Starts the command with the given options; what it says goes to a file, whose text `said` reads."""
    started = []
    embedded = {
        name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "REDIS_URL", "EMAIL_URL")
    }

    def start(*options: str) -> subprocess.Popen:
        with (tmp_path / "said").open("wb") as said:
            process = subprocess.Popen(
                [sys.executable, "manage.py", "serve", *options],
                cwd=ROOT,
                env={**embedded, "GRAFTWRIGHT_DATA": str(tmp_path / "data")},
                stdout=said,
                stderr=said,
            )
        process.said = (tmp_path / "said").read_text
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.wait()


def first_page(port: int, process: subprocess.Popen, seconds: float = 90) -> str:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline and process.poll() is None:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/sign-in/", timeout=10) as answer:
                return answer.read().decode()
        except (urllib.error.URLError, TimeoutError):
            time.sleep(0.2)
    return pytest.fail(f"no answer:\n{process.said()}")


def test_an_empty_nursery_is_served_its_jobs_are_drained_and_ctrl_c_ends_it(serve, port, tmp_path):
    process = serve("--port", str(port))
    assert "<form" in first_page(port, process)
    assert f"http://localhost:{port}" in process.said()
    assert job_is_taken(tmp_path / "data" / "graftwright.sqlite3")
    process.send_signal(signal.SIGINT)
    process.wait(15)
    with socket.create_server(("127.0.0.1", port)):
        pass  # nothing is left behind that listens


def job_is_taken(database, seconds: float = 15) -> bool:
    """Whether the thread of the serving process takes up a job that somebody else wrote."""
    with sqlite3.connect(database, timeout=20) as rows:
        rows.execute(
            "INSERT INTO orders_job (kind, key, payload, state, attempts, run_after, created_at, error)"
            " VALUES ('of no kind', 'k', '{}', 'waiting', 0, '2026-01-01', '2026-01-01', '')"
        )
        rows.commit()
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            [(state,)] = rows.execute("SELECT state FROM orders_job")
            if state == "failed":  # no handler does jobs of no kind, and the thread has said so
                return True
            time.sleep(0.2)
    return False


def test_a_taken_port_is_refused_before_anything_is_made(port):
    says = f"Port {port} is taken by another program. Choose another one, for example --port {port + 1}."
    with socket.create_server(("127.0.0.1", port)), pytest.raises(CommandError, match=says):
        call_command("serve", port=port)  # it may not touch a database here, and does not come that far


def test_a_port_that_cannot_be_is_refused():
    with pytest.raises(CommandError, match="from 1 to 65535"):
        call_command("serve", port=70_000)


def test_an_address_of_another_machine_is_refused():
    with pytest.raises(CommandError, match=r"cannot listen on nowhere\.invalid"):
        call_command("serve", host="nowhere.invalid")


def test_only_the_demo_can_be_thrown_away(port, settings):
    settings.DEMO = False
    with pytest.raises(CommandError, match="for the demo nursery only"):
        call_command("serve", port=port, fresh=True)
