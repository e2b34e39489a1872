"""Drafts: letters that the service wrote of itself, which a person reads, changes, and sends or puts aside."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext as _

from .letters import enqueue, in_language_of, note
from .models import Customer, Letter, Order, User
from .refusals import ManyRefused, Refused

State = Letter.State
LONGEST = 20_000  # characters of a letter
SIGNATURE = "\n-- \n"  # what parts a text from its signature (RFC 3676, 4.3)


def lies_ready(order: Order) -> bool:
    """Whether a draft about this order waits to be read: what is to be said meanwhile joins it, unsent."""
    return Letter.objects.filter(order=order, state=State.DRAFT).exists()


def change(*, letter: Letter, subject: str, text: str, by: User) -> Letter:
    """Keep other words for a draft. Its HTML is made anew from the text, so that both say the same."""
    with _locked(letter) as row:
        _reword(row, subject, text, by)
    return row


def send(*, letter: Letter, by: User, subject: str | None = None, text: str | None = None) -> Letter:
    """Send a draft, with other words if they are given, to the address that the customer has now."""
    with _locked(letter) as row:
        if subject is not None or text is not None:
            _reword(row, row.subject if subject is None else subject, row.text if text is None else text, by)
        if not row.customer.email:
            raise Refused(
                _("%(customer)s has no email address.") % {"customer": row.customer},
                mend=_("Add one to the customer, or tick the call off once you have rung."),
            )
        row.to, row.state = row.customer.email, State.WAITING
        row.save(update_fields=["to", "state"])
        note(row, by, _("Letter read and sent: %(subject)s"))
        enqueue(row)
    return row


def put_aside(*, letter: Letter, by: User) -> Letter:
    """Not to be sent. The letter is kept, and can be taken up again."""
    with _locked(letter) as row:
        row.state, row.ended_at, row.ended_by = State.PUT_ASIDE, timezone.now(), by.shown_name
        row.save(update_fields=["state", "ended_at", "ended_by"])
        note(row, by, _("Put aside, not sent: %(subject)s"))
    return row


def take_up(*, letter: Letter, by: User) -> Letter:
    """Back to the drafts, or to the calls. Refused where a newer letter about the same paper was written since."""
    with _locked(letter, State.PUT_ASIDE) as row:
        if _newer_than(row):
            raise Refused(_("A newer letter about this order takes its place."), mend=_("Send that one."))
        row.state = State.DRAFT if row.customer.email else State.TO_CALL
        row.ended_at, row.ended_by, row.ended_reason = None, "", ""
        row.save(update_fields=["state", "ended_at", "ended_by", "ended_reason"])
        again = _("Taken up again as a draft: %(subject)s")
        note(row, by, again if row.state == State.DRAFT else _("Taken up again as a call: %(subject)s"))
    return row


def _newer_than(letter: Letter) -> bool:
    if letter.document is None:
        return False
    kind, code = letter.document.kind, letter.document.code
    return Letter.objects.filter(pk__gt=letter.pk, document__kind=kind, document__code=code).exists()


@contextmanager
def _locked(letter: Letter, state: str = State.DRAFT) -> Iterator[Letter]:
    """The letter's own row for one change, if it still is what it was taken for."""
    with transaction.atomic():
        row = Letter.objects.select_for_update(of=("self",)).select_related("customer", "order", "document")
        found = row.get(pk=letter.pk)
        if found.state != state:
            raise Refused(
                _("“%(subject)s” is no draft any more: it is %(state)s.")
                % {"subject": found.subject, "state": found.get_state_display()}
                if state == State.DRAFT
                else _("“%(subject)s” is not put aside: it is %(state)s.")
                % {"subject": found.subject, "state": found.get_state_display()},
                mend=_("Look at it again under Letters and calls."),
            )
        yield found


def _reword(letter: Letter, subject: str, text: str, by: User) -> None:
    subject, text = " ".join(subject.split()), "\n".join(text.splitlines()).strip("\n")
    faults = []
    if not subject:
        faults.append(Refused(_("The letter has no subject."), mend=_("Write one."), field="subject"))
    if not text.strip():
        faults.append(Refused(_("The letter is empty."), mend=_("Write it, or put it aside."), field="text"))
    if len(subject) > 200:
        faults.append(
            Refused(_("The subject is longer than 200 characters."), mend=_("Shorten it."), field="subject")
        )
    if len(text) > LONGEST:
        words = _("The letter is longer than %(n)d characters.") % {"n": LONGEST}
        faults.append(Refused(words, mend=_("Shorten it."), field="text"))
    if faults:
        raise ManyRefused(faults)
    if (subject, text + "\n") == (letter.subject, letter.text):
        return
    if letter.html and text + "\n" != letter.text:
        letter.html = _as_html(text, subject, letter.customer)
    letter.subject, letter.text = subject, text + "\n"
    letter.save(update_fields=["subject", "text", "html"])
    note(letter, by, _("The words of the draft are changed: %(subject)s"))


def _as_html(text: str, subject: str, customer: Customer) -> str:
    """The text as a letter in HTML, which ends with the nursery's name and address of itself."""
    with in_language_of(customer) as nursery:
        body = text.partition(SIGNATURE)[0].strip()
        return render_to_string("email/written.html", {"nursery": nursery, "subject": subject, "body": body})
