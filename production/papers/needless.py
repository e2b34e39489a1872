"""Letters that nobody has read or rung yet and that a later event made needless: put aside, with the reason.

Only calls and drafts: what has left has left. Whatever says that a line was taken back stays, for that is still to
be told.
"""

from __future__ import annotations

from datetime import date

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orders import letters, states
from orders.days import day_words
from orders.models import Letter, Order, OrderLine

from .told import CONFIRMING

OVER = states.ENDED - {states.COLLECTED}


def after_notice(notice: Letter, line: OrderLine) -> None:
    """The newest notice of a line says how many are ready; when no line still grows, notices say it all."""
    letters.put_aside(_notices(line).filter(pk__lt=notice.pk), why=_("a newer one took its place"))
    if _all_are(line.order, states.READY, states.COLLECTED):
        confirming = line.order.letters.filter(kind__in=CONFIRMING, pk__lt=notice.pk)
        letters.put_aside(confirming, why=_("since then the plants became ready"))
    line = OrderLine.objects.get(pk=line.pk)
    if line.state in states.ENDED:  # while the paper was made
        letters.put_aside(_notices(line), why=_("the line has ended"))


def after_hand_over(line: OrderLine, on: date) -> None:
    """Whoever fetches plants of a line has heard that they are ready; with all fetched there is no more to say."""
    why = _("fetched on %(day)s") % {"day": day_words(on)}
    letters.put_aside(_notices(line), why=why)
    if _all_are(line.order, states.COLLECTED):
        letters.put_aside(line.order.letters.filter(kind__in=(*CONFIRMING, "quote")), why=why)


def after_end(line: OrderLine) -> None:
    """A line let go or taken back waits for nobody; nor does a quote of which nothing is held any more."""
    letters.put_aside(_notices(line), why=_("the line has ended"))
    if not still_held(line.order):
        letters.put_aside(line.order.letters.filter(kind="quote"), why=_("nothing is held any more"))


def still_held(order: Order) -> bool:
    return OrderLine.objects.filter(order=order, state=states.HELD).exists()


def _notices(line: OrderLine) -> QuerySet[Letter]:
    return line.order.letters.filter(kind="pickup_ready", document__code=f"{line.order.code}-{line.number}")


def _all_are(order: Order, *wanted: str) -> bool:
    """Whether all lines are in these states, but for those let go before they were promised."""
    found = OrderLine.objects.filter(order=order).exclude(state__in=OVER, confirmed_at=None)
    return found.exists() and not found.exclude(state__in=wanted).exists()
