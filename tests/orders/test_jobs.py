"""Job rows: written with their cause, done at least once, failing where it can be seen."""

import threading
import time
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone, translation

from orders import jobs
from orders.models import Job, Nursery


@pytest.fixture
def done(monkeypatch) -> list:
    """Register 'note', which notes its payload here, and 'break', which fails."""
    notes: list = []

    def break_it(payload):
        raise ValueError("the label printer is on fire")

    def note(payload):
        assert payload.pop("cause").startswith("note:")
        notes.append(payload)

    monkeypatch.setitem(jobs.HANDLERS, "note", note)
    monkeypatch.setitem(jobs.HANDLERS, "break", break_it)
    return notes


def later(job: Job, by: timedelta) -> None:
    """Move the job's times into the past, as if so long had gone by."""
    job.refresh_from_db()
    job.run_after -= by
    job.leased_until = job.leased_until and job.leased_until - by
    job.save()


@pytest.mark.django_db
def test_a_job_is_done_once_with_its_payload(done):
    jobs.enqueue("note", "note:1", {"order": 31})
    assert jobs.drain() == 1
    assert jobs.drain() == 0
    assert done == [{"order": 31}]
    assert Job.objects.get().state == Job.State.DONE


@pytest.mark.django_db
def test_the_same_cause_written_twice_is_one_job(done):
    first = jobs.enqueue("note", "note:1", {"n": 1})
    assert jobs.enqueue("note", "note:1", {"n": 2}) == first
    jobs.drain()
    assert jobs.enqueue("note", "note:1", {"n": 3}).state == Job.State.DONE
    assert jobs.drain() == 0
    assert done == [{"n": 1}]


@pytest.mark.django_db(transaction=True)
def test_a_job_goes_back_with_the_transaction_that_wrote_it(done):
    with transaction.atomic():
        jobs.enqueue("note", "note:1")
        transaction.set_rollback(True)
    assert jobs.drain() == 0
    assert done == []


@pytest.mark.django_db
def test_a_job_waits_for_its_time(done):
    jobs.enqueue("note", "note:1", run_after=timezone.now() + timedelta(hours=1))
    assert jobs.drain() == 0
    later(Job.objects.get(), timedelta(hours=2))
    assert jobs.drain() == 1


@pytest.mark.django_db
def test_at_most_so_many_are_done_in_one_go_oldest_first(done):
    for number in range(5):
        jobs.enqueue("note", f"note:{number}", {"n": number})
    assert jobs.drain(limit=3) == 3
    assert done == [{"n": 0}, {"n": 1}, {"n": 2}]


@pytest.mark.django_db
def test_a_failure_waits_longer_each_time_then_stands_until_a_person_asks_again(done):
    job = jobs.enqueue("break", "break:1")
    for wait in jobs.WAITS:
        jobs.drain()
        job.refresh_from_db()
        assert job.state == Job.State.WAITING
        assert job.error == "the label printer is on fire"
        assert abs(job.run_after - timezone.now() - wait) < timedelta(seconds=5)
        later(job, wait + timedelta(seconds=1))
    jobs.drain()
    job.refresh_from_db()
    assert job.state == Job.State.FAILED
    assert jobs.drain() == 0

    jobs.HANDLERS["break"] = done.append
    jobs.retry(job)
    assert jobs.drain() == 1
    job.refresh_from_db()
    assert (job.state, job.error) == (Job.State.DONE, "")


@pytest.mark.django_db
def test_what_cannot_be_mended_by_trying_again_fails_at_once(done):
    def give_up(payload):
        raise jobs.GiveUp("no paper")

    jobs.HANDLERS["break"] = give_up
    job = jobs.enqueue("break", "break:1")
    unknown = jobs.enqueue("sing", "sing:1")
    jobs.drain()
    for row in (job, unknown):
        row.refresh_from_db()
        assert row.state == Job.State.FAILED
    assert job.error == "no paper"
    assert "sing" in unknown.error


@pytest.mark.django_db
def test_one_failing_job_does_not_hold_up_the_others(done):
    jobs.enqueue("break", "break:1")
    jobs.enqueue("note", "note:1", {"n": 1})
    jobs.drain()
    assert done == [{"n": 1}]


@pytest.mark.django_db
def test_the_job_of_a_dead_worker_is_taken_over_when_its_lease_has_run_out(done):
    job = jobs.enqueue("note", "note:1", {"n": 1})
    assert jobs._claim(timezone.now()).pk == job.pk  # a worker takes it and is never heard of again
    assert jobs.drain() == 0
    later(job, jobs.LEASE + timedelta(seconds=1))
    assert jobs.drain() == 1
    assert done == [{"n": 1}]


@pytest.mark.django_db
def test_who_waits_for_a_job_is_told_when_it_is_given_up(done, monkeypatch):
    """By its handler, after the last try, or by nobody, since each worker that took it died."""
    told = []
    monkeypatch.setitem(jobs.GIVEN_UP, "break", lambda payload, why: told.append((payload["cause"], why)))
    jobs.enqueue("break", "break:1")
    Job.objects.update(attempts=len(jobs.WAITS) - 1)
    jobs.drain()
    assert told == []
    Job.objects.update(run_after=timezone.now())
    jobs.drain()
    jobs.enqueue("break", "break:2")
    Job.objects.filter(key="break:2").update(attempts=len(jobs.WAITS) + 1)
    jobs.drain()
    assert told == [
        ("break:1", "the label printer is on fire"),
        ("break:2", "The service stopped each time while doing this."),
    ]


@pytest.mark.django_db
def test_a_slow_worker_does_not_overwrite_the_one_that_took_over(done):
    job = jobs.enqueue("note", "note:1")
    slow = jobs._claim(timezone.now())
    later(job, jobs.LEASE + timedelta(seconds=1))
    quick = jobs._claim(timezone.now())
    jobs._failed(slow, ValueError("too late"))
    job.refresh_from_db()
    assert (job.state, job.attempts, job.error) == (Job.State.RUNNING, quick.attempts, "")


@pytest.mark.django_db
def test_a_job_that_kills_every_worker_ends_as_failed(done):
    job = jobs.enqueue("note", "note:1")
    for _attempt in range(len(jobs.WAITS) + 1):
        jobs._claim(timezone.now())
        later(job, jobs.LEASE + timedelta(seconds=1))
    jobs.drain()
    job.refresh_from_db()
    assert job.state == Job.State.FAILED
    assert job.error
    assert done == []


@pytest.mark.django_db
def test_handlers_work_in_the_nursery_s_own_time_zone_and_language(done):
    Nursery.objects.create(pk=1, name="Hollow Lane", time_zone="Pacific/Auckland", language="en-gb")
    jobs.HANDLERS["note"] = lambda payload: done.append(
        (timezone.get_current_timezone_name(), translation.get_language())
    )
    jobs.enqueue("note", "note:1")
    jobs.drain()
    assert done == [("Pacific/Auckland", "en-gb")]


@pytest.mark.django_db(transaction=True)
def test_handlers_run_outside_any_transaction(done):
    jobs.HANDLERS["note"] = lambda payload: done.append(connection.in_atomic_block)
    jobs.enqueue("note", "note:1")
    jobs.drain()
    assert done == [False]


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_is_down_does_not_fail_the_request(done, settings, caplog):
    from celery import current_app

    settings.JOBS_EMBEDDED = False
    broker, current_app.conf.broker_url = (
        current_app.conf.broker_url,
        "redis://127.0.0.1:1/0",
    )  # nothing listens there
    began = time.monotonic()
    try:
        with transaction.atomic():
            jobs.enqueue("note", "note:1", {"n": 1})
    finally:
        current_app.conf.broker_url = broker
    assert time.monotonic() - began < 4  # kombu's own retries would take 6 s, and a first import takes 1
    assert "The broker did not take a nudge" in caplog.text
    assert jobs.drain() == 1


@pytest.mark.django_db(transaction=True)
def test_the_embedded_thread_does_a_job_as_soon_as_it_is_committed(done, settings):
    settings.JOBS_EMBEDDED = True
    stop = threading.Event()
    thread = threading.Thread(target=jobs.run_forever, args=(stop,))
    thread.start()
    try:
        time.sleep(0.2)  # it has looked once and sleeps now
        with transaction.atomic():
            jobs.enqueue("break", "break:1")
            jobs.enqueue("note", "note:1", {"n": 1})
        deadline = time.monotonic() + 4  # sooner than its next look by itself
        while not done and time.monotonic() < deadline:
            time.sleep(0.02)
    finally:
        stop.set()
        jobs.nudge()
        thread.join(10)
    assert done == [{"n": 1}]
    assert not thread.is_alive()


@pytest.mark.django_db(transaction=True)
def test_what_a_stop_cut_off_is_taken_up_as_soon_as_an_embedded_nursery_runs_again(done, monkeypatch):
    """Nobody else drains it, so there is no lease to wait for."""
    stop = threading.Event()
    monkeypatch.setitem(jobs.HANDLERS, "last", lambda payload: stop.set())
    jobs.enqueue("note", "note:1", {"n": 1})
    jobs._claim(timezone.now())  # and the process is killed
    jobs.enqueue("last", "last:1")
    thread = threading.Thread(target=jobs.run_forever, args=(stop,))
    thread.start()
    thread.join(10)
    assert done == [{"n": 1}]
    assert Job.objects.get(key="note:1").state == Job.State.DONE


@pytest.mark.django_db(transaction=True)
def test_the_embedded_thread_stops_after_the_job_in_hand(done, monkeypatch):
    stop = threading.Event()
    monkeypatch.setitem(jobs.HANDLERS, "last", lambda payload: stop.set())
    with transaction.atomic():
        jobs.enqueue("last", "last:1")
        jobs.enqueue("note", "note:1")
    thread = threading.Thread(target=jobs.run_forever, args=(stop,))
    thread.start()
    thread.join(10)
    assert not thread.is_alive()
    assert done == []
