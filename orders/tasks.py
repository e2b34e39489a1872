"""Celery's thin edge: a task only looks for job rows."""

from celery import shared_task

from . import jobs


@shared_task(name="orders.tasks.drain_jobs")
def drain_jobs() -> int:
    """Do the jobs that are due; how many were tried."""
    return jobs.drain()
