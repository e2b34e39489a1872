"""Celery's thin edge: the day turns, and what was not recorded is work of today."""

from __future__ import annotations

from celery import shared_task

from orders.models import Nursery

from .services import replan


@shared_task(name="production.tasks.roll_over")
def roll_over() -> int:
    """Plan unrecorded work of days past for today; how many parts moved. Opening Today does the same."""
    return replan.roll_over(Nursery.current().today())
