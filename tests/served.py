"""`manage.py serve` as `./run` calls it: a real process on a real port, with a data folder of its own."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.services import ROOT

ELSEWHERE = ("DATABASE_URL", "REDIS_URL", "EMAIL_URL", "SITE_URL", "GRAFTWRIGHT_DEMO")


@dataclass
class Serving:
    """The process, where it answers, and the folder with its data and with what it said."""

    process: subprocess.Popen
    address: str
    folder: Path

    @property
    def data(self) -> Path:
        return self.folder / "data"

    def said(self) -> str:
        return (self.folder / "said").read_text()

    def first_page(self, seconds: float = 90) -> str:
        """What a stranger is shown, once the process answers."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline and self.process.poll() is None:
            try:
                with urllib.request.urlopen(f"{self.address}/sign-in/", timeout=10) as answer:
                    return answer.read().decode()
            except (urllib.error.URLError, TimeoutError):
                time.sleep(0.2)
        return pytest.fail(f"no answer:\n{self.said()}")


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return free.getsockname()[1]


@contextmanager
def serving(folder: Path, *options: str, port: int | None = None, **environment: str) -> Iterator[Serving]:
    """The command with these options, embedded whatever the tests themselves run on; ended when left."""
    port = port or free_port()
    embedded = {name: value for name, value in os.environ.items() if name not in ELSEWHERE}
    with (folder / "said").open("wb") as said:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--port", str(port), *options],
            cwd=ROOT,
            env={**embedded, "GRAFTWRIGHT_DATA": str(folder / "data"), **environment},
            stdout=said,
            stderr=said,
        )
    try:
        yield Serving(process, f"http://127.0.0.1:{port}", folder)
    finally:
        process.terminate()  # gunicorn passes it on to its workers
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
