"""A real Celery worker and beat, on the test's own PostgreSQL database and a corner of Redis of their own."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote
from uuid import uuid4

import redis

from config import celery_app
from tests.mail import Listener, Server
from tests.services import REDIS, ROOT

WORKER = ("worker", "--concurrency=1", "--loglevel=INFO")


class Worker:
    """The processes of a real installation beside the one that serves; `mail` is the SMTP server they send to."""

    def __init__(self, database: str, mail: Server, mail_port: int, folder: Path) -> None:
        self.mail = mail
        self.folder = folder
        self.prefix = f"graftwright-test-{uuid4().hex[:8]}:"
        self.environment = {
            **os.environ,
            "DATABASE_URL": database,
            "REDIS_URL": REDIS,
            "REDIS_PREFIX": self.prefix,
            "EMAIL_URL": f"smtp://127.0.0.1:{mail_port}",
        }
        self.processes: dict[str, subprocess.Popen] = {}

    def start(self) -> None:
        self.start_one("worker", *WORKER)
        self.start_one("beat", "beat", "--loglevel=INFO", "--schedule", str(self.folder / "beat"), "--pidfile=")
        self.wait_for("worker", " ready.")
        self.wait_for("beat", "beat: Starting")

    def start_one(self, name: str, *arguments: str) -> None:
        with (self.folder / f"{name}.log").open("ab") as log:
            self.processes[name] = subprocess.Popen(
                [sys.executable, "-m", "celery", "-A", "config", *arguments],
                cwd=ROOT,
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
            )

    def kill(self, name: str) -> None:
        """As a power cut ends it: it and the processes that it started, without a word."""
        process = self.processes.pop(name)
        children = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        for each in (process.pid, *map(int, children)):
            os.kill(each, signal.SIGKILL)
        process.wait()

    def wait_for(self, name: str, words: str, seconds: float = 60) -> None:
        deadline = time.monotonic() + seconds
        while words not in self.log(name):
            assert self.processes[name].poll() is None, f"the {name} ended:\n{self.log(name)}"
            assert time.monotonic() < deadline, f"the {name} has not said “{words}”:\n{self.log(name)}"
            time.sleep(0.1)

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text()

    @contextmanager
    def nudged_from_here(self) -> Iterator[None]:
        """Celery in the test's own process speaks to the same corner of Redis."""
        conf = celery_app.conf
        before = {name: conf[name] for name in ("broker_url", "broker_transport_options")}
        options = {**before["broker_transport_options"], "global_keyprefix": self.prefix}
        conf.update(broker_url=REDIS, broker_transport_options=options)
        celery_app._after_fork()  # what it keeps open leads to another broker
        yield
        conf.update(before)
        celery_app._after_fork()

    def stop(self) -> None:
        for process in self.processes.values():
            process.terminate()
        for process in self.processes.values():
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        self.forget()

    def forget(self) -> None:
        """Leave nothing in a Redis that may be somebody's."""
        with redis.Redis.from_url(REDIS) as corner:
            for key in corner.scan_iter(f"{self.prefix}*"):
                corner.delete(key)


@contextmanager
def running(database: str, folder: Path) -> Iterator[Worker]:
    mail = Server()
    listener = Listener(mail, hostname="127.0.0.1", port=0)
    listener.start()
    worker = Worker(database, mail, listener.port, folder)
    try:
        worker.start()
        yield worker
    finally:
        worker.stop()
        listener.stop()


def url_of(database: dict) -> str:
    """The address of a database from its Django settings: the test database, once it is made."""
    user, password = quote(database["USER"]), quote(database["PASSWORD"])
    sign_in = f"{user}:{password}@" if password else f"{user}@"
    return f"postgres://{sign_in}{database['HOST']}:{database['PORT'] or 5432}/{database['NAME']}"
