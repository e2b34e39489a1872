"""The first minute of the day: what is due, what is late, where it will pinch, who waits for us, what is owed.

A page of its own and not the head of Today, which must stay quick for a thumb with dirt on it: what is counted
here asks the whole season. Each figure leads to its list, and is shown only to those who may open that list.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from invoicing import queries as bills
from orders import queries, states
from orders.access import needs, nursery_of, user_of
from orders.models import Job, Letter, Nursery, OrderLine, User
from orders.templatetags.house import day
from production.answers import conflict_sentence
from production.models import Allocation
from production.queries import trouble
from production.queries.today import DaySheet, day_sheet
from production.services import replan

State = Letter.State
NAMED = 3  # names in a sentence; the list has the others
ENDS_SOON = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Figure:
    """A number, what it counts, the first of them in words, and the address of their list."""

    key: str
    number: int
    words: str
    says: str
    url: str
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class _Morning:
    """What the figures are counted from."""

    today: date
    nursery: Nursery
    sheet: DaySheet


@needs("production.see_work")
@require_safe
def glance(request: HttpRequest) -> HttpResponse:
    """Opening it plans yesterday's unrecorded work for today, as Today does."""
    figures = list(figures_for(user_of(request), nursery_of(request)))
    context = {
        "section": "today",
        "some": [figure for figure in figures if figure.number],
        "none": [figure for figure in figures if not figure.number],
    }
    return render(request, "glance.html", context)


def figures_for(user: User, nursery: Nursery) -> Iterator[Figure]:
    """Every figure whose list this user may open."""
    today = nursery.today()
    replan.roll_over(today)
    morning = _Morning(today, nursery, day_sheet(today, today=today, user=user))
    for needed, figures in FIGURES:
        if user.has_perm(needed):
            yield from figures(morning)


def _work(morning: _Morning) -> Iterator[Figure]:
    tasks, url = morning.sheet.tasks, reverse("today")
    late = [task for task in tasks if task.late_since and not task.waits]
    waiting = [task for task in tasks if task.waits]
    due = [task for task in tasks if not task.late_since and not task.waits]
    yield Figure("late", len(late), _("late"), _named([task.title for task in late]), f"{url}#part-late", True)
    yield Figure("due", len(due), _("due today"), _named([task.title for task in due]), url)
    words = _("waiting for seed or for plants")
    yield Figure("waiting", len(waiting), words, _named([t.title for t in waiting]), f"{url}#part-waiting", True)


def _conflicts(morning: _Morning) -> Iterator[Figure]:
    found = trouble.conflicts_soon(morning.today, morning.nursery)
    first = conflict_sentence(found[0]) if found else ""
    words = ngettext("conflict in the next three weeks", "conflicts in the next three weeks", len(found))
    yield Figure("conflicts", len(found), words, first, reverse("season"), True)


def _orders(morning: _Morning) -> Iterator[Figure]:
    short = trouble.lines_of(trouble.at_risk(morning.nursery))
    late = trouble.lines_of(trouble.running_late(morning.nursery))
    url = reverse("batches")
    words = ngettext("line that may run short", "lines that may run short", len(short))
    yield Figure("risk", len(short), words, _whose(short), f"{url}?only=risk", True)
    words = ngettext("line that cannot keep its day", "lines that cannot keep their day", len(late))
    yield Figure("behind", len(late), words, _whose(late), f"{url}?only=late", True)


def _replies(morning: _Morning) -> Iterator[Figure]:
    open_lines = queries.lines().filter(state__in=(states.ASKED, states.HELD), order__own_crop=False)
    lines = list(open_lines.order_by("hold_until", "pk"))
    held = [line for line in lines if line.state == states.HELD]
    asked = [line for line in lines if line.state == states.ASKED]
    url = reverse("orders")
    soon = any(line.hold_until and line.hold_until <= morning.today + ENDS_SOON for line in held)
    words = ngettext("held line awaits a reply", "held lines await a reply", len(held))
    yield Figure("held", len(held), words, _ends(held, morning.today), f"{url}?state={states.HELD}", soon)
    words = ngettext("line asked for awaits our answer", "lines asked for await our answer", len(asked))
    yield Figure(
        "asked", len(asked), words, _named([_line(line) for line in asked]), f"{url}?state={states.ASKED}"
    )


def _letters(morning: _Morning) -> Iterator[Figure]:
    to_tell, url = morning.sheet.to_tell, reverse("letters")
    words = ngettext("customer to tell of ready plants", "customers to tell of ready plants", len(to_tell))
    says = _named([_line(line) for line in to_tell])
    yield Figure("to_tell", len(to_tell), words, says, f"{reverse('today')}#part-tell")
    waiting = Letter.objects.filter(state__in=(State.DRAFT, State.TO_CALL, State.FAILED))
    by_state: dict[str, list[Letter]] = {}
    for letter in waiting.select_related("customer").order_by("pk"):
        by_state.setdefault(letter.state, []).append(letter)
    drafts, calls, failed = (by_state.get(state, []) for state in (State.DRAFT, State.TO_CALL, State.FAILED))
    jobs = Job.objects.filter(state=Job.State.FAILED).count()
    words = ngettext("draft to read and send", "drafts to read and send", len(drafts))
    yield Figure("drafts", len(drafts), words, _named([str(each) for each in drafts]), f"{url}#drafts")
    to_ring = list(dict.fromkeys(str(each.customer) for each in calls))  # one call each, whatever is to be said
    words = ngettext("call to make", "calls to make", len(to_ring))
    yield Figure("calls", len(to_ring), words, _named(to_ring), f"{url}#calls")
    wrong = len(failed) + jobs
    words = ngettext("letter or paper went wrong", "letters or papers went wrong", wrong)
    yield Figure("failed", wrong, words, _named([str(each) for each in failed]), f"{url}#failed", True)


def _money(morning: _Morning) -> Iterator[Figure]:
    owed, to_bill, url = bills.owed_in_all(morning.today), bills.to_bill(), reverse("money")
    words = ngettext("invoice overdue", "invoices overdue", owed.overdue)
    yield Figure("overdue", owed.overdue, words, owed.overdue_words, f"{url}#owed", True)
    words = ngettext("invoice not paid yet", "invoices not paid yet", owed.number)
    yield Figure("owed", owed.number, words, owed.words, f"{url}#owed")
    words = ngettext("order to bill", "orders to bill", len(to_bill))
    says = _named([str(each.order) for each in to_bill[:NAMED]], among=len(to_bill))
    yield Figure("to_bill", len(to_bill), words, says, f"{url}#to-bill")


FIGURES: tuple[tuple[str, Callable[[_Morning], Iterator[Figure]]], ...] = (
    ("production.see_work", _work),
    ("production.see_work", _conflicts),
    ("orders.see_orders", _orders),
    ("orders.take_orders", _replies),
    ("orders.send_letters", _letters),
    ("invoicing.see_money", _money),
)


# --- words ----------------------------------------------------------------------------------------------------


def _named(names: Sequence[str], *, among: int | None = None) -> str:
    """'Sow Tallis Red, Graft Order 27 and 4 more'; `among` says how many there are where names are the first."""
    shown = list(dict.fromkeys(names))[:NAMED]
    more = (len(names) if among is None else among) - len(shown)
    if more:
        shown.append(ngettext("%(n)d more", "%(n)d more", more) % {"n": more})
    return str(get_text_list(shown, _("and")))


def _line(line: OrderLine) -> str:
    return _("%(line)s for %(who)s") % {"line": line, "who": line.order.who}


def _whose(rows: Sequence[Allocation]) -> str:
    return _named([_line(row.line) for row in rows])


def _ends(held: Sequence[OrderLine], today: date) -> str:
    """Whose hold ends first, and when."""
    if not held:
        return ""
    words = _("%(line)s, held until %(day)s") % {"line": _line(held[0]), "day": day(held[0].hold_until, today)}
    more = len(held) - 1
    return _("%(first)s; %(n)d more") % {"first": words, "n": more} if more else words
