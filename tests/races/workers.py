"""Several workers at the same jobs, letters and papers, each with a database connection of their own."""

from __future__ import annotations

from collections import Counter

from .issuers import at_once

WORKERS = 4


def drain_side_by_side(number: int = 40) -> dict[str, object]:
    """So many jobs, drained by everybody; how often each was done."""
    from orders import jobs
    from orders.models import Job

    done: list[int] = []
    jobs.HANDLERS["note"] = lambda payload: done.append(payload["n"])
    for n in range(number):
        jobs.enqueue("note", f"note:{n}", {"n": n})
    ends = at_once(lambda _worker: jobs.drain(), WORKERS)
    return {
        "ends": ends,
        "times": sorted(Counter(Counter(done).values()).items()),
        "left": Job.objects.exclude(state=Job.State.DONE).count(),
    }


def send_side_by_side(number: int = 10) -> dict[str, object]:
    """So many letters, and each worker has the job of every one; how often each was kept by the mailbox."""
    from orders import letters
    from orders.models import Letter, MailboxMessage
    from tests.factories import NurseryFactory, OrderFactory

    NurseryFactory()
    for n in range(number):
        order = OrderFactory()
        letters.queue(
            kind="confirmation", key=f"letter:{n}", customer=order.customer, order=order, context={"revision": n}
        )
    pks = list(Letter.objects.order_by("pk").values_list("pk", flat=True))

    def work(worker: int) -> None:
        for pk in pks[worker:] + pks[:worker]:
            letters.send({"letter": pk, "since": 0})

    ends = at_once(work, WORKERS)
    kept = Counter(MailboxMessage.objects.values_list("subject", flat=True))
    return {
        "ends": ends,
        "letters": len(kept),
        "most": max(kept.values()),
        "states": sorted(set(Letter.objects.values_list("state", flat=True))),
    }


def issue_side_by_side() -> dict[str, object]:
    """Everybody issues a paper of one code for the same cause, then one for a cause of their own."""
    from orders import documents
    from orders.models import Document, Nursery
    from tests.factories import NurseryFactory

    NurseryFactory()
    data = {"issued": None, "nursery": documents.letterhead(Nursery.current())}

    def issue(cause: str) -> None:
        documents.issue(
            kind="confirmation", code="31", title="Race", template="pdf/base.html", data=data, cause=cause
        )

    same = at_once(lambda _worker: issue("one cause"), WORKERS)
    after_same = Document.objects.count()
    own = at_once(lambda worker: issue(f"cause {worker}"), WORKERS)
    revisions = sorted(Document.objects.values_list("revision", flat=True))
    return {"ends": same + own, "same": after_same, "revisions": revisions}


ON_SQLITE = (drain_side_by_side, send_side_by_side)
