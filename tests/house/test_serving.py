"""`manage.py serve`: what it makes, what it refuses, and that it ends."""

import signal
import socket
import sqlite3
import time

import pytest
from django.core.management import CommandError, call_command

from tests.served import free_port, serving


def test_an_empty_nursery_is_served_its_jobs_are_drained_and_ctrl_c_ends_it(tmp_path):
    port = free_port()
    with serving(tmp_path, port=port) as served:
        assert "<form" in served.first_page()
        assert f"http://localhost:{port}" in served.said()
        assert job_is_taken(served.data / "graftwright.sqlite3")
        served.process.send_signal(signal.SIGINT)
        served.process.wait(15)
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


def test_a_taken_port_is_refused_before_anything_is_made():
    port = free_port()
    says = f"Port {port} is taken by another program. Choose another one, for example --port {port + 1}."
    with socket.create_server(("127.0.0.1", port)), pytest.raises(CommandError, match=says):
        call_command("serve", port=port)  # it may not touch a database here, and does not come that far


def test_a_port_that_cannot_be_is_refused():
    with pytest.raises(CommandError, match="from 1 to 65535"):
        call_command("serve", port=70_000)


def test_an_address_of_another_machine_is_refused():
    with pytest.raises(CommandError, match=r"cannot listen on nowhere\.invalid"):
        call_command("serve", host="nowhere.invalid")


def test_only_the_demo_can_be_thrown_away(settings):
    settings.DEMO = False
    with pytest.raises(CommandError, match="for the demo nursery only"):
        call_command("serve", port=free_port(), fresh=True)
