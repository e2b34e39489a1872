"""How gunicorn serves Graftwright: `gunicorn -c config/gunicorn.py`, which is what `./run serve` ends in.

Embedded, one process with threads serves the pages and drains the jobs. With a broker, Celery drains them, and
WEB_CONCURRENCY may ask for more processes.
"""

import os
import sys
import threading
from pathlib import Path
from typing import Any

from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

wsgi_app = "config.wsgi"
worker_class = "gthread"
threads = 8
workers = 1 if settings.JOBS_EMBEDDED else int(os.environ.get("WEB_CONCURRENCY", "2"))
graceful_timeout = 10
control_socket_disable = True  # it would write into the home folder
loglevel = "warning"

_stop = threading.Event()


def when_ready(server: Any) -> None:
    """Say the address once the socket is listening, and not before."""
    if welcome := os.environ.get("GRAFTWRIGHT_WELCOME"):
        sys.stdout.write(welcome)
        sys.stdout.flush()


def post_worker_init(worker: Any) -> None:
    """Jobs are drained in the serving process: after the fork, since a thread does not survive one."""
    if settings.JOBS_EMBEDDED:
        from orders import jobs

        worker.jobs = threading.Thread(target=jobs.run_forever, args=(_stop,), name="jobs", daemon=True)
        worker.jobs.start()


def worker_exit(server: Any, worker: Any) -> None:
    """Let the job in hand finish; what is cut off all the same is a row, and runs again after the next start."""
    if thread := getattr(worker, "jobs", None):
        from orders import jobs

        _stop.set()
        jobs.nudge()  # it may be waiting for work
        thread.join(timeout=graceful_timeout)
