"""Celery's thin edge: a task only looks for job rows."""

from celery import shared_task

from . import jobs


@shared_task(name=jobs.DRAIN_TASK)
def drain_jobs() -> int:
    """Do the jobs that are due; how many were tried."""
    return jobs.drain()
