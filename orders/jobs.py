"""Work for later: write the row with its cause, do it at least once, keep a failure where it can be seen.

The row is the truth. A nudge only makes it quick: a Celery task where a broker is set, else the thread of the
serving process. A nudge that is lost costs seconds, for both also look by themselves.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from celery import current_app as celery
from django.conf import settings
from django.db import DatabaseError, close_old_connections, connections, transaction
from django.db.models import Q
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from .models import Job, Nursery

log = logging.getLogger(__name__)

Handler = Callable[[dict[str, Any]], object]
GivenUp = Callable[[dict[str, Any], str], object]
HANDLERS: dict[str, Handler] = {}
GIVEN_UP: dict[str, GivenUp] = {}

# A worker that has said nothing for so long is taken for dead; longer than any handler may run.
LEASE = timedelta(minutes=10)
# After each failure so long a wait; after the last one the job has failed and waits for a person.
WAITS = (timedelta(seconds=20), timedelta(minutes=2), timedelta(minutes=10), timedelta(minutes=30))
DRAIN_TASK = "orders.tasks.drain_jobs"  # sent by its name, for tasks.py stands on this module
POLL = 5.0  # seconds between two looks of the embedded thread

_wake = threading.Event()


class GiveUp(Exception):
    """A handler's word that trying again by itself is of no use: the job fails at once, with this reason."""


def handler(kind: str, *, given_up: GivenUp | None = None) -> Callable[[Handler], Handler]:
    """Register the function that does jobs of this kind.

    It is called with the payload, to which the job's key is added as `cause`, outside any transaction, in the
    nursery's language and time zone. It may be called again after it has done its work, and must then leave the
    same result behind: what it makes can be marked with `cause` and looked up by it.

    `given_up` is told the payload and the reason, in a transaction, once the job has failed and is tried no more,
    also where the service stopped each time and no handler could say so: what waits for the job can say why.
    """

    def register(function: Handler) -> Handler:
        HANDLERS[kind] = function
        if given_up:
            GIVEN_UP[kind] = given_up
        return function

    return register


def enqueue(kind: str, key: str, payload: dict[str, Any] | None = None, run_after: datetime | None = None) -> Job:
    """Write a job inside the caller's transaction. The same key again gives the job that is there, unchanged."""
    job, made = Job.objects.get_or_create(
        key=key, defaults={"kind": kind, "payload": payload or {}, "run_after": run_after or timezone.now()}
    )
    if made:
        transaction.on_commit(nudge)
    return job


def retry(job: Job) -> None:
    """Let a failed job start anew, because a person asks for it."""
    again = Job.objects.filter(pk=job.pk, state=Job.State.FAILED).update(
        state=Job.State.WAITING, attempts=0, run_after=timezone.now(), done_at=None
    )
    if again:
        transaction.on_commit(nudge)


def nudge() -> None:
    """Have the waiting jobs looked at soon. Never fails: a broker that is down only makes it later."""
    if settings.JOBS_EMBEDDED:
        _wake.set()
        return
    try:
        celery.send_task(DRAIN_TASK, retry=False)
    except Exception:
        log.warning("The broker did not take a nudge; the jobs wait for the next round.", exc_info=True)


def drain(limit: int = 100) -> int:
    """Do jobs that are due, oldest first, at most `limit`; how many were tried."""
    tried = 0
    while tried < limit and (job := _claim(timezone.now())):
        _attempt(job)
        tried += 1
    return tried


def run_forever(stop: threading.Event) -> None:
    """Drain until `stop` is set: the embedded thread. No error ends it; a stop waits for the job in hand.

    Nobody else drains an embedded nursery, so whatever runs when it begins was cut off, and is taken over at once.
    """
    cut_off = Job.objects.filter(state=Job.State.RUNNING)
    try:
        with suppress(DatabaseError):  # then its lease runs out
            cut_off.update(leased_until=timezone.now() - timedelta(seconds=1))
        while not stop.is_set():
            _wake.clear()
            _drain_safely(stop)
            _wake.wait(POLL)
    finally:
        connections.close_all()


def _drain_safely(stop: threading.Event) -> None:
    try:
        close_old_connections()
        while not stop.is_set() and drain(limit=1):
            pass
    except Exception:
        log.exception("Draining jobs failed; it is tried again in a moment.")
    finally:
        close_old_connections()


def _due(now: datetime) -> Q:
    return Q(state=Job.State.WAITING, run_after__lte=now) | Q(state=Job.State.RUNNING, leased_until__lt=now)


def _claim(now: datetime) -> Job | None:
    """Take one due job under a lease, or None. Two workers never take the same one."""
    due = Job.objects.filter(_due(now)).order_by("run_after", "id")
    if not due.exists():  # without this look, every round would take SQLite's write lock
        return None
    with transaction.atomic():
        job = due.select_for_update(skip_locked=True).first()
        if job is None:
            return None
        job.state = Job.State.RUNNING
        job.attempts += 1
        job.leased_until = now + LEASE
        job.save(update_fields=["state", "attempts", "leased_until"])
        return job


def _attempt(job: Job) -> None:
    if job.attempts > len(WAITS) + 1:  # each worker that took it died before it could say why
        _give_up(job, job.error or _("The service stopped each time while doing this."))
        return
    try:
        _do(job)
    except Exception as error:
        log.warning("Job %s failed, attempt %d.", job.key, job.attempts, exc_info=True)
        _failed(job, error)
    else:
        _end(job, Job.State.DONE)


def _do(job: Job) -> None:
    if job.kind not in HANDLERS:
        raise GiveUp(_("This service does not know how to do “%(kind)s”.") % {"kind": job.kind})
    nursery = Nursery.current()
    with timezone.override(ZoneInfo(nursery.time_zone)), translation.override(nursery.language):
        HANDLERS[job.kind](job.payload | {"cause": job.key})


def _failed(job: Job, error: Exception) -> None:
    text = str(error) or type(error).__name__
    if isinstance(error, GiveUp) or job.attempts > len(WAITS):
        _give_up(job, text)
    else:
        _mine(job).update(
            state=Job.State.WAITING,
            leased_until=None,
            error=text,
            run_after=timezone.now() + WAITS[job.attempts - 1],
        )


def _give_up(job: Job, why: str) -> None:
    with transaction.atomic():
        if _end(job, Job.State.FAILED, error=why) and (told := GIVEN_UP.get(job.kind)):
            told(job.payload | {"cause": job.key}, why)


def _end(job: Job, state: str, *, error: str = "") -> bool:
    return bool(_mine(job).update(state=state, leased_until=None, error=error, done_at=timezone.now()))


def _mine(job: Job) -> Any:
    """The row, as long as nobody took the job over after its lease had run out."""
    return Job.objects.filter(pk=job.pk, state=Job.State.RUNNING, attempts=job.attempts)
