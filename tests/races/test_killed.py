"""Killed in the middle of it and started again: nothing lost, nothing doubled, nothing half done."""

import pytest
from django.utils import timezone

from orders.models import Job, Order
from production.services import list_taking
from tests.worker import WORKER, Worker

from . import killed
from .embedded import on_sqlite, told_on_sqlite

ALL_PROMISED = {
    "states": ["promised"],
    "named": True,
    "orders": killed.ORDERS,
    "lines": [["confirmed", killed.ORDERS]],
    "batches": killed.ORDERS,
    "papers": killed.ORDERS,
}


@on_sqlite
def test_a_list_half_taken_goes_on_as_soon_as_the_nursery_is_served_again():
    assert told_on_sqlite(killed)["while_a_list_is_taken"] == ALL_PROMISED


@on_sqlite
def test_moves_of_a_levelling_are_taken_all_or_none():
    told = told_on_sqlite(killed)["while_moves_are_taken"]
    before = [[False], ["confirmed", "asked"], [True, False], [1, 0], 1, 0]
    after = [[True], ["confirmed", "confirmed"], [False, True], [1, 1], 2, 2]
    assert told["moves"] == 2
    assert told["seen"] in ([before, after], [after])


@pytest.mark.worker
def test_a_list_half_taken_by_a_worker_goes_on_with_another(worker: Worker):
    """Its lease runs out first, for nobody can know whether a worker is dead or only slow."""
    kept = killed.bring_a_list()
    killed.wait_for(lambda: killed.is_now(kept, "checked"))
    list_taking.confirm(kept, by=None)
    killed.wait_for(Order.objects.exists)
    worker.kill("worker")
    assert (killed.is_now(kept, "taking"), Order.objects.count() < killed.ORDERS) == (True, True)
    Job.objects.filter(state=Job.State.RUNNING).update(leased_until=timezone.now())
    worker.start_one("worker", *WORKER)
    killed.wait_for(lambda: killed.is_now(kept, "taken"))
    assert killed.left_of(kept) == ALL_PROMISED | {"lines": [("confirmed", killed.ORDERS)]}
