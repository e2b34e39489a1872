"""Sitting at the desk: its form as a browser sends it, and a healing chamber that somebody else has filled."""

from datetime import date

from django.urls import reverse

from orders import services as orders
from orders.models import OrderLine
from production.services import promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY


def signed_in(client, user):
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def begun(client) -> dict[str, str]:
    """The desk's form as a browser would send it back untouched."""
    desk = client.get(reverse("desk")).context["desk"]
    forms = [desk.form, desk.lines.management_form, *desk.lines]
    values = {bound.html_name: bound.value() for form in forms for bound in form}
    return {name: value for name, value in values.items() if value is not None and value is not False}


def asked(client, **line) -> dict[str, str]:
    wanted = {"quantity": "60", "scion": "Tallis Red", "rootstock": "Kelder", "pickup": "2027-04-21"} | line
    return begun(client) | {"customer": "Briar End"} | {f"lines-0-{name}": value for name, value in wanted.items()}


def press(client, action: str, data: dict[str, str], **more: str):
    return client.post(reverse("desk"), data | {"action": action} | more)


def full_chamber(working, until: date = date(2027, 4, 9)) -> OrderLine:
    room = working.line(
        kind="room", scion=None, rootstock=None, method="plain", container=working.tray, quantity=2,
        room_place_kind="healing", room_nights=50, pickup_asked=until, later=0,
    )  # fmt: skip
    return promised(room)


def promised(line: OrderLine) -> OrderLine:
    order = orders.take_order(customer=CustomerFactory(), lines=[line], by=None, today=TODAY)
    promise.accept(order=order, by=None, today=TODAY)
    return order.lines.get()
