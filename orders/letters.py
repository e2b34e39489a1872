"""THE outbox: a letter is a row in the caller's transaction, sent after it, and at most once unless a person asks.

Before anything leaves, the row says that it is being sent, and that is committed. When the service stops between
then and the mail server's answer, nobody can know whether the letter left; the row then says so, and a person
decides. A customer without an address is a call to make, with the words to say. What nobody has asked for by name
may be written as a draft (drafts.py), which waits to be read.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Collection, Iterable, Iterator
from contextlib import contextmanager, suppress
from email.mime.text import MIMEText
from email.utils import formataddr, make_msgid, parseaddr
from smtplib import SMTPException, SMTPRecipientsRefused, SMTPResponseException, SMTPServerDisconnected
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.db import transaction
from django.db.models import QuerySet
from django.template import Context, TemplateDoesNotExist
from django.template.loader import get_template, render_to_string
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from . import documents, history, jobs
from .models import Customer, Document, Letter, Nursery, Order, User
from .refusals import Refused

log = logging.getLogger(__name__)

TRIES = len(jobs.WAITS) + 1  # by itself; after that a person is asked
State = Letter.State


# --- writing ----------------------------------------------------------------------------------------------


def queue(
    *,
    kind: str,
    key: str,
    customer: Customer,
    order: Order | None = None,
    document: Document | None = None,
    context: dict[str, Any],
    calendar: str = "",
    by: str = "",
    draft: bool = False,
    instead_of: Collection[str] = (),
) -> Letter:
    """Write the letter, and the job that sends it, inside the caller's transaction. The same key: the same letter.

    The templates email/<kind>.subject.txt, .txt, .html and .call.txt are rendered in the customer's language with
    `context`, `nursery`, `customer`, `order` and `document`. A `draft` waits for a person to read and send it.
    Drafts and calls of the order whose kind is in `instead_of` are put aside: this letter says it all.
    """
    if known := Letter.objects.filter(key=key).first():
        return known
    with in_language_of(customer) as nursery:
        words = {"nursery": nursery, "customer": customer, "order": order, "document": document, **context}
        written = _written(kind, words)
    envelope = {"kind": kind, "customer": customer, "order": order, "document": document, "calendar": calendar}
    state = (State.DRAFT if draft else State.WAITING) if customer.email else State.TO_CALL
    with transaction.atomic():
        letter, made = Letter.objects.get_or_create(
            key=key, defaults={**envelope, **written, "to": customer.email, "state": state}
        )
        if made:
            _put_older_aside(letter, instead_of)
            _begin(letter, by)
    return letter


def _put_older_aside(letter: Letter, kinds: Collection[str]) -> None:
    older = Letter.objects.filter(order=letter.order_id, kind__in=kinds).exclude(pk=letter.pk)
    put_aside(older, why=_("a newer one took its place"))


def put_aside(needless: QuerySet[Letter], *, why: str) -> None:
    """Drafts and calls among these that need not be sent or made any more; `why` goes on 'put aside: …'."""
    waiting = needless.filter(state__in=(State.DRAFT, State.TO_CALL)).order_by("pk")
    with transaction.atomic():
        for letter in waiting.select_for_update(of=("self",)).select_related("order"):
            letter.state, letter.ended_at, letter.ended_by = State.PUT_ASIDE, timezone.now(), ""
            letter.ended_reason = why[:200]
            letter.save(update_fields=["state", "ended_at", "ended_by", "ended_reason"])
            note(letter, None, _("Put aside, %(why)s: %%(subject)s") % {"why": why.replace("%", "%%")})


def _begin(letter: Letter, by: str) -> None:
    if letter.state == State.TO_CALL:
        note(letter, by, _("A call to make: %(subject)s"))
        return
    if letter.state == State.DRAFT:
        note(letter, by, _("Letter drafted: %(subject)s"))
        return
    note(letter, by, _("Letter written: %(subject)s"))
    enqueue(letter)


@contextmanager
def in_language_of(customer: Customer | None) -> Iterator[Nursery]:
    """The customer's language and the nursery's time zone; hands over the nursery."""
    nursery = Nursery.current()
    language = (customer.language if customer else "") or nursery.language
    with translation.override(language), timezone.override(ZoneInfo(nursery.time_zone)):
        yield nursery


def _written(kind: str, words: dict[str, Any]) -> dict[str, str]:
    return {
        "subject": " ".join(_plain(kind, "subject.txt", words).split())[:200],
        "text": re.sub(r"\n{3,}", "\n\n", _plain(kind, "txt", words).strip()) + "\n",
        "html": _if_there(render_to_string, f"email/{kind}.html", words),
        "call_words": _if_there(_plain, kind, "call.txt", words).strip(),
    }


def _plain(kind: str, part: str, words: dict[str, Any]) -> str:
    """A template of plain text, in which & stays &."""
    template: Any = get_template(f"email/{kind}.{part}")
    return str(template.template.render(Context(words, autoescape=False)))


def _if_there(render: Callable[..., str], *arguments: Any) -> str:
    """A letter may lack its HTML and the words for a call; never its subject and text."""
    try:
        return render(*arguments)
    except TemplateDoesNotExist:
        return ""


def enqueue(letter: Letter) -> None:
    """The job that sends the letter, inside the caller's transaction."""
    jobs.enqueue(
        "send_letter",
        f"send_letter:{letter.pk}:{letter.attempts}",
        {"letter": letter.pk, "since": letter.attempts},
    )


def note(letter: Letter, by: User | str | None, what: str) -> None:
    """A line in the order's history."""
    if letter.order:
        history.record(
            by=by or None,
            what=f"letter {letter.state}",
            subject=letter.order,
            text=what % {"subject": letter.subject, "to": letter.to},
            letter=letter.pk,
        )


# --- sending ----------------------------------------------------------------------------------------------


class NotSent(Exception):
    """The letter has certainly not left. `final` when trying again by itself would not help."""

    def __init__(self, reason: str, *, final: bool = False) -> None:
        self.final = final
        super().__init__(reason)


@jobs.handler("send_letter")
def send(payload: dict[str, Any]) -> None:
    """Send one letter. Raises NotSent as long as trying again by itself is safe and may help."""
    letter = _take(payload["letter"])
    if letter is None:
        return
    try:
        _hand_to_server(letter)
    except NotSent as error:
        last = error.final or letter.attempts - payload["since"] >= TRIES
        _set(letter, State.FAILED if last else State.WAITING, error=str(error))
        if not last:
            raise
    except Exception as error:
        log.warning("Letter %s: not known whether it left.", letter.key, exc_info=True)
        _set(letter, State.FAILED, error=not_known(_said(error)))
    else:
        _set(letter, State.SENT, ended_at=timezone.now())
        note(letter, None, _("Sent to %(to)s: %(subject)s"))


def not_known(reason: str) -> str:
    return _("Not known whether it left: %(reason)s. Ask the customer before you send it again.") % {
        "reason": reason.rstrip(".")
    }


def _take(pk: int) -> Letter | None:
    """The letter, if it is this worker's to send; from here on its row says that it is being sent."""
    with transaction.atomic(durable=True):
        letter = Letter.objects.select_for_update().get(pk=pk)
        if letter.state == State.SENDING:  # whoever was sending it is gone without a word
            _set(letter, State.FAILED, error=not_known(_("the service stopped while sending it")))
            return None
        if letter.state != State.WAITING:
            return None
        letter.state = State.SENDING
        letter.attempts += 1
        letter.message_id = make_msgid(domain=parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or None)
        letter.save(update_fields=["state", "attempts", "message_id"])
    return Letter.objects.select_related("customer", "document", "order").get(pk=pk)


def _set(letter: Letter, state: str, **fields: Any) -> None:
    """Write what came of this attempt, unless another attempt has begun since."""
    values = {"error": "", "state": state} | fields
    Letter.objects.filter(pk=letter.pk, attempts=letter.attempts).update(**values)
    for name, value in values.items():
        setattr(letter, name, value)


def _hand_to_server(letter: Letter) -> None:
    """Raises NotSent for what the server refused or never saw; any other error leaves it open whether it left."""
    try:
        message = message_of(letter)
        message.message()  # put together once before anybody is asked to take it
    except Exception as error:
        raise NotSent(
            _("The letter cannot be put together: %(reason)s") % {"reason": error}, final=True
        ) from error
    connection = get_connection()
    try:
        connection.open()
    except (OSError, SMTPException) as error:
        raise NotSent(_("The mail server cannot be reached: %(reason)s") % {"reason": _said(error)}) from error
    try:
        connection.send_messages([message])
    except SMTPServerDisconnected:
        raise  # in the middle of it
    except SMTPException as error:  # the server answered, and the answer was no
        refused = _("The mail server refused it: %(reason)s") % {"reason": _said(error)}
        raise NotSent(refused, final=_code(error) >= 500) from error
    finally:
        with suppress(Exception):  # the answer is in; how the parting went does not matter
            connection.close()


def _code(error: SMTPException) -> int:
    if isinstance(error, SMTPRecipientsRefused):
        return max(code for code, _words in error.recipients.values())
    return int(getattr(error, "smtp_code", 0))


def _said(error: Exception) -> str:
    """The server's own words, without the Python around them."""
    if isinstance(error, SMTPRecipientsRefused):
        answers: list[tuple[int, bytes | str]] = list(error.recipients.values())
    elif isinstance(error, SMTPResponseException):
        answers = [(error.smtp_code, error.smtp_error)]
    else:
        return str(error) or type(error).__name__
    return "; ".join(f"{code} {_text(words)}" for code, words in answers)


def _text(words: bytes | str) -> str:
    return words.decode(errors="replace") if isinstance(words, bytes) else words


def message_of(letter: Letter) -> EmailMultiAlternatives:
    """The letter as it goes over the wire: text and HTML, the paper, the calendar entry."""
    nursery = Nursery.current()
    message = EmailMultiAlternatives(
        subject=letter.subject,
        body=letter.text,
        from_email=_address(nursery.name, parseaddr(settings.DEFAULT_FROM_EMAIL)[1]),
        to=[_address(letter.customer.contact or letter.customer.name, letter.to)],
        reply_to=[nursery.email] if nursery.email else None,
        headers={"Message-ID": letter.message_id},
    )
    if letter.html:
        message.attach_alternative(letter.html, "text/html")
    if letter.document:
        message.attach(documents.file_name(letter.document), bytes(letter.document.content), "application/pdf")
    if letter.calendar:
        message.attach(_calendar_part(letter.calendar))
    return message


def _address(name: str, address: str) -> str:
    """A line break in a name must not begin another header."""
    return formataddr((" ".join(name.split()), address))


def _calendar_part(entry: str) -> MIMEText:
    part = MIMEText(entry, "calendar", "utf-8")
    part.set_param("method", "PUBLISH")  # the same as inside (RFC 6047, 2.4)
    part.add_header("Content-Disposition", "attachment", filename="pickup.ics")
    return part


# --- what a person decides --------------------------------------------------------------------------------


def send_again(*, letter: Letter, by: User) -> Letter:
    """Send a letter because a person asks for it: failed, sent already, or to call and now with an address.

    It goes to the address that the customer has now. Raises Refused without one, or while it is on its way.
    """
    with transaction.atomic():
        letter = Letter.objects.select_for_update().get(pk=letter.pk)
        address = letter.customer.email
        if not address:
            raise Refused(
                _("%(customer)s has no email address.") % {"customer": letter.customer},
                mend=_("Add one to the customer, or tick the call off once you have rung."),
            )
        if letter.state in (State.WAITING, State.SENDING):
            raise Refused(_("This letter is on its way already."))
        if letter.state in (State.DRAFT, State.PUT_ASIDE):
            raise Refused(_("This letter has never left."), mend=_("Read it among the drafts, and send it there."))
        letter.to, letter.state, letter.error, letter.ended_at = address, State.WAITING, "", None
        letter.save(update_fields=["to", "state", "error", "ended_at"])
        note(letter, by, _("To be sent again to %(to)s: %(subject)s"))
        enqueue(letter)
    return letter


def tick_all(*, told: Iterable[Letter], by: User) -> list[Letter]:
    """All of them were told in one call; if one is not to be ticked off, none is. Raises Refused."""
    with transaction.atomic():
        return [tick(letter=letter, by=by) for letter in sorted(told, key=lambda letter: letter.pk)]


def tick(*, letter: Letter, by: User) -> Letter:
    """The customer was rung up, instead of written to. Raises Refused unless it is to call, a draft, or failed."""
    with transaction.atomic():
        letter = Letter.objects.select_for_update().get(pk=letter.pk)
        if letter.state == State.CALLED:
            return letter
        if letter.state not in (State.TO_CALL, State.DRAFT, State.FAILED):
            raise Refused(_("This letter has gone by mail; there is no call to tick off."))
        letter.state, letter.ended_at, letter.ended_by = State.CALLED, timezone.now(), by.shown_name
        letter.save(update_fields=["state", "ended_at", "ended_by"])
        note(letter, by, _("Told by telephone: %(subject)s"))
    return letter
