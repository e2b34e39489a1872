"""Changing protocols: versions, what stays as it was, what the next promise makes of it."""

from dataclasses import replace

import pytest
from django.urls import reverse

from orders import history, states
from orders import services as orders
from orders.models import Crop, OrderLine
from orders.refusals import ManyRefused, Refused
from production.models import Batch, Part, Protocol, ProtocolStage, Stay, Work
from production.services import answering, promise
from production.services import protocols as service
from production.services.protocols import Draft, StageDraft, draft_of
from tests import factories
from tests.nursery import TODAY, working_nursery

pytestmark = pytest.mark.django_db


def tomato_splice() -> Protocol:
    return Protocol.objects.get(crop__name="Tomato", method="splice", current=True)


def changed(draft: Draft, kind: str, **values) -> Draft:
    """The draft with these values in every stage of that kind."""
    stages = tuple(
        replace(stage, values=stage.values | values) if stage.values["kind"] == kind else stage
        for stage in draft.stages
    )
    return replace(draft, stages=stages)


LONGER = {"shortest": 6, "usual": 6, "longest": 6}


def healing_nights(said: answering.LineAnswer) -> int:
    return next(stay.nights for stay in said.plan.stays if stay.stage_kind == "healing")


def confirmed(working) -> OrderLine:
    order = orders.take_order(
        customer=factories.CustomerFactory(), lines=[working.line()], by=working.grower, today=TODAY
    )
    promise.accept(order=order, by=working.grower, today=TODAY)
    return order.lines.get()


def test_longer_healing_changes_the_next_promise_and_no_confirmed_order() -> None:
    working = working_nursery()
    line = confirmed(working)
    tables = (OrderLine, Batch, Part, Stay, Work)
    before = {model: list(model.objects.order_by("pk").values()) for model in tables}
    assert healing_nights(answering.what_if([working.line()], today=TODAY)[0]) == 4

    protocol = tomato_splice()
    service.revise(protocol=protocol, draft=changed(draft_of(protocol), "healing", **LONGER), by=working.grower)

    assert healing_nights(answering.what_if([working.line()], today=TODAY)[0]) == 6
    assert {model: list(model.objects.order_by("pk").values()) for model in tables} == before
    line.refresh_from_db()
    assert line.state == states.CONFIRMED
    assert Stay.objects.get(stage_kind="healing", part__allocations__line=line).nights == 4


def test_a_version_that_a_batch_uses_stays_and_a_new_one_is_made() -> None:
    working = working_nursery()
    confirmed(working)
    old = tomato_splice()
    was = draft_of(old)
    new = service.revise(protocol=old, draft=changed(was, "healing", **LONGER), by=working.grower)
    assert (new.version, new.current) == (old.version + 1, True)
    old.refresh_from_db()
    assert not old.current
    assert draft_of(old) == was
    assert Batch.objects.get().protocol == old
    assert "Healing: usual nights 4 → 6" in history.of(new).get().text


def test_a_version_that_nobody_uses_is_changed_in_place() -> None:
    working = working_nursery()
    protocol = tomato_splice()
    revised = service.revise(
        protocol=protocol, draft=changed(draft_of(protocol), "healing", **LONGER), by=working.grower
    )
    assert revised == protocol
    assert protocol.stages.get(kind="healing").usual == 6
    assert Protocol.objects.filter(crop__name="Tomato", method="splice").count() == 1


def test_saving_what_is_there_changes_nothing() -> None:
    working = working_nursery()
    confirmed(working)
    protocol = tomato_splice()
    before = history.of(protocol).count()
    assert service.revise(protocol=protocol, draft=draft_of(protocol), by=None) == protocol
    assert protocol.stages.exists()
    assert history.of(protocol).count() == before


def test_a_replaced_version_is_not_changed() -> None:
    working = working_nursery()
    confirmed(working)
    old = tomato_splice()
    draft = changed(draft_of(old), "healing", **LONGER)
    service.revise(protocol=old, draft=draft, by=None)
    with pytest.raises(Refused, match="has been replaced"):
        service.revise(protocol=old, draft=draft, by=None)


@pytest.mark.parametrize(
    ("bend", "reason"),
    [
        (lambda draft: changed(draft, "healing", shortest=9), "must lie between"),
        (lambda draft: replace(draft, stages=tuple(draft.track("rootstock") + draft.track("scion"))), "No stage"),
        (lambda draft: replace(draft, stages=tuple(draft.track("union"))), "germinating and raising"),
        (lambda draft: late_work(draft), "beyond its longest 4"),
        (lambda draft: changed(draft, "cold_hold", usual=2), "kept for need"),
    ],
)
def test_a_draft_that_could_not_be_planned_with_is_refused_whole(bend, reason) -> None:
    working_nursery()
    protocol = tomato_splice()
    was = draft_of(protocol)
    with pytest.raises(ManyRefused, match=reason):
        service.revise(protocol=protocol, draft=bend(was), by=None)
    assert draft_of(protocol) == was


def late_work(draft: Draft) -> Draft:
    """The grafting work eleven nights into the healing stage."""
    stages = tuple(
        StageDraft(stage.values, tuple({**work, "after": 11, "at_end": False} for work in stage.works))
        if stage.values["kind"] == "healing"
        else stage
        for stage in draft.stages
    )
    return replace(draft, stages=stages)


def test_a_protocol_is_copied_for_another_method() -> None:
    working = working_nursery()
    pepper, _made = Crop.objects.get_or_create(name="Pepper")
    Protocol.objects.filter(crop=pepper).delete()
    made = service.copy(protocol=tomato_splice(), crop=pepper, method="side", by=working.grower)
    assert draft_of(made) == draft_of(tomato_splice())
    with pytest.raises(Refused, match="There is a protocol"):
        service.copy(protocol=tomato_splice(), crop=pepper, method="side", by=working.grower)
    with pytest.raises(Refused, match="not grafted"):
        service.copy(protocol=tomato_splice(), crop=pepper, method="plain", by=working.grower)


# The pages.


@pytest.fixture
def working(client):
    working = working_nursery()
    client.force_login(working.grower)
    return working


def everything(page) -> dict:
    """The edit page as a browser sends it back untouched."""
    forms = page.context["forms"]
    rows = [forms.protocol, forms.spare]
    sent = {}
    for each in forms.stages:
        rows += [each.stage, *each.works.forms]
        sent |= {field.html_name: field.value() for field in each.works.management_form}
    for row in rows:
        sent |= {field.html_name: field.value() for field in row if field.value() not in (None, "")}
    return {name: "on" if value is True else value for name, value in sent.items() if value is not False}


def healing_field(protocol: Protocol, name: str) -> str:
    return f"stage-{protocol.stages.get(kind='healing').pk}-{name}"


@pytest.mark.parametrize("page", ["protocol", "edit_protocol"])
def test_only_the_grower_sees_and_changes_protocols(client, working, page) -> None:
    at = reverse(page, args=[tomato_splice().pk])
    assert client.get(at).status_code == 200
    for role in ("office", "crew"):
        client.force_login(factories.UserFactory(role=role))
        assert client.get(at).status_code == 403
        assert client.get(reverse("protocols")).status_code == 403
        assert client.post(reverse("copy_protocol", args=[tomato_splice().pk])).status_code == 403
    client.logout()
    assert client.get(at).url.startswith(reverse("sign_in"))


def test_practice_and_what_is_published_stand_side_by_side(client, working) -> None:
    shown = client.get(reverse("protocol", args=[tomato_splice().pk])).content.decode()
    assert "4 nights and out before the fifth" in shown
    assert "Joined in 5 to 8 days, healed in 14" in shown
    assert "count blades out and in" in shown


def test_saving_the_page_untouched_changes_nothing(client, working) -> None:
    protocol = tomato_splice()
    was = draft_of(protocol)
    at = reverse("edit_protocol", args=[protocol.pk])
    assert client.post(at, everything(client.get(at))).status_code == 302
    assert draft_of(tomato_splice()) == was


def test_longer_healing_on_the_page_changes_the_next_promise(client, working) -> None:
    confirmed(working)
    protocol = tomato_splice()
    at = reverse("edit_protocol", args=[protocol.pk])
    sent = everything(client.get(at)) | {healing_field(protocol, name): "6" for name in LONGER}
    answer = client.post(at, sent)
    assert answer.url == reverse("protocol", args=[tomato_splice().pk])
    assert tomato_splice().version == 2
    assert healing_nights(answering.what_if([working.line()], today=TODAY)[0]) == 6


def test_nights_out_of_order_are_shown_beside_their_field(client, working) -> None:
    protocol = tomato_splice()
    at = reverse("edit_protocol", args=[protocol.pk])
    answer = client.post(at, everything(client.get(at)) | {healing_field(protocol, "usual"): "2"})
    assert answer.status_code == 422
    assert "must lie between" in answer.content.decode()


def test_a_stage_is_left_out_and_another_is_added(client, working) -> None:
    protocol = tomato_splice()
    at = reverse("edit_protocol", args=[protocol.pk])
    cover = protocol.stages.get(kind="cover")
    sent = everything(client.get(at)) | {
        f"stage-{cover.pk}-leave_out": "on", "spare-order": "2", "spare-name": "In the shade",
        "spare-kind": "growing_on", "spare-place_kinds": ["bench"], "spare-shortest": "1", "spare-usual": "1",
        "spare-longest": "2",
    }  # fmt: skip
    assert client.post(at, sent).status_code == 302
    names = [stage.name for stage in ProtocolStage.objects.filter(protocol=tomato_splice(), track="union")]
    assert "In the shade" in names
    assert cover.name not in names


def test_work_is_added_and_taken_away(client, working) -> None:
    protocol = tomato_splice()
    heal = protocol.stages.get(kind="healing")
    at = reverse("edit_protocol", args=[protocol.pk])
    skill = heal.works.first().skill.pk
    extra = heal.works.count()
    sent = everything(client.get(at)) | {
        f"work-{heal.pk}-0-helper_skill": skill, f"work-{heal.pk}-{extra}-kind": "check",
        f"work-{heal.pk}-{extra}-skill": skill, f"work-{heal.pk}-{extra}-per_hour": "900",
        f"work-{heal.pk}-{extra}-part": "morning", f"work-{heal.pk}-{extra}-after": "2",
        f"work-{heal.pk}-{extra}-care": "on", f"work-{heal.pk}-1-DELETE": "on",
    }  # fmt: skip
    assert client.post(at, sent).status_code == 302
    works = list(tomato_splice().stages.get(kind="healing").works.all())
    assert [work.kind for work in works] == ["graft", "check"]
    assert works[0].helper_skill_id == skill


def test_a_copy_opens_to_be_changed(client, working) -> None:
    pepper, _made = Crop.objects.get_or_create(name="Pepper")
    Protocol.objects.filter(crop=pepper, method="side").delete()
    answer = client.post(
        reverse("copy_protocol", args=[tomato_splice().pk]), {"crop": pepper.pk, "method": "side"}, follow=True
    )
    assert answer.redirect_chain[-1][0] == reverse(
        "edit_protocol", args=[Protocol.objects.get(crop=pepper, method="side").pk]
    )


# Sowing in succession.


def test_sowings_in_succession_are_a_new_version_and_change_the_next_promise(client, working) -> None:
    confirmed(working)
    old = tomato_splice()
    page = client.get(reverse("edit_protocol", args=[old.pk]))
    sent = everything(page) | {"protocol-scion_sowings": "2", "protocol-sown_apart": "3"}
    said = client.post(reverse("edit_protocol", args=[old.pk]), sent)
    new = tomato_splice()
    assert said.url == reverse("protocol", args=[new.pk])
    assert (new.version, new.rootstock_sowings, new.scion_sowings, new.sown_apart) == (old.version + 1, 1, 2, 3)
    assert "sowings of the scion 1 → 2" in history.of(new).get().text
    assert "rootstock once, scion 2 times, 3 days apart" in " ".join(client.get(said.url).content.decode().split())
    (answer,) = answering.what_if([working.line()], today=TODAY)
    assert len([each for each in answer.plan.sowings if each.subject == "scion"]) == 2
    assert "Sown in succession" not in client.get(reverse("protocol", args=[old.pk])).content.decode()


@pytest.mark.parametrize(("field", "value"), [("scion_sowings", "0"), ("scion_sowings", "6"), ("sown_apart", "0")])
def test_a_number_of_sowings_that_makes_no_sense_is_refused_on_its_field(client, working, field, value) -> None:
    protocol = tomato_splice()
    page = client.get(reverse("edit_protocol", args=[protocol.pk]))
    said = client.post(
        reverse("edit_protocol", args=[protocol.pk]), everything(page) | {f"protocol-{field}": value}
    )
    assert said.status_code == 422
    assert field in said.context["forms"].protocol.errors
    assert tomato_splice().scion_sowings == 1


def test_plants_that_are_not_grafted_are_not_asked_for_sowings_to_match(client, working) -> None:
    plain = Protocol.objects.filter(method="plain", current=True).first()
    assert plain
    page = client.get(reverse("edit_protocol", args=[plain.pk]))
    assert "scion_sowings" not in page.context["forms"].protocol.fields
    sent = everything(page) | {"protocol-keeping_nights": "9"}
    assert client.post(reverse("edit_protocol", args=[plain.pk]), sent).status_code == 302
    plain.refresh_from_db()
    assert (plain.keeping_nights, plain.scion_sowings) == (9, 1)
