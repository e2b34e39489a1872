"""The real installation: PostgreSQL, Redis, a Celery worker and beat, a mail server. Nothing here stands in."""

import time
from datetime import timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from orders import jobs
from orders.models import Job, Letter
from tests.orders.test_letters import write

pytestmark = pytest.mark.worker


def ends(job_or_letter, state, seconds):
    """Waits for the row to say so; how long that took."""
    began = time.monotonic()
    while time.monotonic() - began < seconds:
        job_or_letter.refresh_from_db()
        if job_or_letter.state == state:
            return time.monotonic() - began
        time.sleep(0.05)
    return pytest.fail(f"still {job_or_letter.state} after {seconds} s")


def test_a_letter_is_sent_by_the_worker_as_soon_as_it_is_committed(worker):
    with transaction.atomic():
        letter = write()
    took = ends(letter, Letter.State.SENT, 20)
    [envelope] = worker.mail.taken
    assert envelope.rcpt_tos == [letter.to]
    assert took < 8, "sooner than beat's next round: the nudge came through Redis"


def test_what_is_rolled_back_is_not_sent(worker):
    with transaction.atomic():
        write()
        transaction.set_rollback(True)
    with transaction.atomic():
        letter = write(key="the next one")
    ends(letter, Letter.State.SENT, 20)
    assert len(worker.mail.taken) == 1


def test_a_nudge_that_was_lost_only_makes_it_later(worker, monkeypatch):
    monkeypatch.setattr(jobs, "nudge", lambda: None)  # as if Redis had lost it
    with transaction.atomic():
        letter = write()
    ends(letter, Letter.State.SENT, 30)  # by beat's next round


def test_the_job_of_a_worker_that_died_is_done_by_the_next_one(worker):
    with transaction.atomic():
        letter = write()
        job = Job.objects.get()
        job.state, job.attempts = Job.State.RUNNING, 1  # as the dead one left it
        job.leased_until = timezone.now() - timedelta(seconds=1)
        job.save()
    ends(letter, Letter.State.SENT, 30)
    ends(job, Job.State.DONE, 10)


def test_beat_starts_only_tasks_that_there_are(worker):
    from config import celery_app

    celery_app.loader.import_default_modules()
    assert {entry["task"] for entry in celery_app.conf.beat_schedule.values()} <= set(celery_app.tasks)
