"""Papers, letters and failed work by API."""

import pytest
from rest_framework.test import APIClient

from orders import jobs, letters
from orders.models import Document, Job, Letter, MailboxMessage
from tests.factories import CustomerFactory, NurseryFactory, OrderFactory, UserFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def mailbox(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    NurseryFactory()


def api(role: str | None = "office") -> APIClient:
    client = APIClient()
    client.force_authenticate(UserFactory(role=role, first_name="Ines"))
    return client


def write(*, email: str = "mara@field.example") -> Letter:
    order = OrderFactory(customer=CustomerFactory(email=email))
    paper = Document.objects.create(
        kind="confirmation", code=order.code, title="C", content=b"%PDF-1.7", sha256="-"
    )
    return letters.queue(
        kind="confirmation",
        key=f"k{order.code}",
        customer=order.customer,
        order=order,
        document=paper,
        context={"revision": 1},
    )


def test_a_paper_comes_byte_for_byte_whatever_is_accepted():
    letter = write()
    [listed] = api().get("/api/papers/").json()
    assert listed["token"] == letter.document.token
    for accept in ("application/pdf", "*/*"):
        answer = api().get(f"/api/papers/{listed['token']}/", HTTP_ACCEPT=accept)
        assert (answer.content, answer["Content-Type"]) == (b"%PDF-1.7", "application/pdf")
    assert f"confirmation-{letter.order.code}.pdf" in answer["Content-Disposition"]


def test_a_paper_that_is_not_there_or_not_for_this_user_is_a_problem():
    letter = write()
    gone = api().get("/api/papers/nothing/", HTTP_ACCEPT="application/pdf")
    assert (gone.status_code, gone["Content-Type"]) == (404, "application/problem+json")
    assert gone.json()["status"] == 404
    assert api("crew").get(f"/api/papers/{letter.document.token}/").status_code == 403
    assert APIClient().get(f"/api/papers/{letter.document.token}/").status_code == 401


def test_the_call_list_is_read_and_ticked_off():
    letter = write(email="")
    [call] = api().get("/api/letters/?state=to_call").json()
    assert call["call_words"]
    assert call["paper"] == letter.document.token
    told = api().post(f"/api/letters/{letter.pk}/told/").json()
    assert (told["state"], told["ended_by"]) == ("called", "Ines")
    assert api().get("/api/letters/?state=to_call").json() == []


def test_a_failed_letter_is_sent_again_and_one_on_its_way_is_refused():
    letter = write()
    refused = api().post(f"/api/letters/{letter.pk}/again/")
    assert refused.status_code == 409
    assert "on its way" in refused.json()["detail"]
    Letter.objects.update(state="failed", attempts=1)
    assert api().post(f"/api/letters/{letter.pk}/again/").json()["state"] == "waiting"
    jobs.drain()
    assert api().get(f"/api/letters/{letter.pk}/").json()["state"] == "sent"
    assert MailboxMessage.objects.count() == 1


def test_failed_work_is_listed_and_tried_again():
    job = Job.objects.create(kind="confirmation", key="c", state="failed", error="Papers are off.")
    [listed] = api().get("/api/work/failed/").json()
    assert (listed["id"], listed["error"]) == (job.pk, "Papers are off.")
    assert api().post(f"/api/work/failed/{job.pk}/again/").json()["state"] == "waiting"
    assert api().get("/api/work/failed/").json() == []


def test_older_rows_are_asked_for_by_the_last_id_seen():
    first, second = write(), write()
    assert [row["id"] for row in api().get(f"/api/letters/?before={second.pk}").json()] == [first.pk]
    assert api().get("/api/letters/?before=x").status_code == 400


@pytest.mark.parametrize("role", ["crew", None])
def test_letters_are_for_those_who_may_send_them(role):
    letter = write(email="")
    for method, address in (
        ("get", "/api/letters/"),
        ("get", f"/api/letters/{letter.pk}/"),
        ("post", f"/api/letters/{letter.pk}/told/"),
        ("post", f"/api/letters/{letter.pk}/again/"),
        ("get", "/api/work/failed/"),
    ):
        assert getattr(api(role), method)(address).status_code == 403
