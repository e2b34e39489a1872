"""Papers as issued, letters and calls, work that went wrong, and the mailbox of an embedded nursery."""

from __future__ import annotations

import email
import email.policy
from collections.abc import Iterable
from email.message import EmailMessage
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from .. import documents, drafts, exports, jobs, letters
from ..access import needs, user_of
from ..forms.accounts import add_refusal
from ..forms.letters import DraftForm
from ..models import Customer, Document, Job, Letter, MailboxMessage
from ..refusals import Refused
from ..tables.writing import file_asked

A_PAGE = 50
ENDED = (Letter.State.SENT, Letter.State.CALLED, Letter.State.PUT_ASIDE)


# --- papers ---------------------------------------------------------------------------------------------------


@needs()
@require_safe
def paper(request: HttpRequest, token: str) -> HttpResponse:
    """A paper as it was issued, byte for byte."""
    document = get_object_or_404(Document, token=token)
    if document.kind not in documents.kinds_for(user_of(request)):
        raise PermissionDenied
    answer = HttpResponse(bytes(document.content), content_type="application/pdf")
    answer["Content-Disposition"] = content_disposition_header(False, documents.file_name(document)) or "inline"
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer


@needs("orders.see_orders")
@require_safe
def papers(request: HttpRequest) -> HttpResponseBase:
    """All papers that this user may see, newest first, or those of one kind."""
    readable = documents.kinds_for(user_of(request))
    chosen = [kind for kind in readable if kind == request.GET.get("kind")]
    found = Document.objects.filter(kind__in=chosen or readable).defer("content", "data")
    found = found.select_related("order", "customer")
    if file_asked(request):
        return exports.PAPERS.answer(found.iterator(500))
    context = {
        "page": Paginator(found, A_PAGE).get_page(request.GET.get("page")),
        "kinds": readable,
        "chosen": chosen[0] if chosen else "",
    }
    return _page(request, "papers", context)


# --- letters and calls ----------------------------------------------------------------------------------------


@needs("orders.send_letters")
@require_safe
def letter_list(request: HttpRequest) -> HttpResponseBase:
    """Whom to ring, what to read and send, what went wrong, what is on its way; then all that has ended."""
    known = Letter.objects.select_related("customer", "order", "document")
    if file_asked(request):
        return exports.LETTERS.answer(known.defer("text", "html", "calendar", "document__content").iterator(500))
    ended = known.filter(state__in=ENDED).order_by("-ended_at")
    context = {
        "to_call": _by_customer(known.filter(state=Letter.State.TO_CALL).order_by("id")),
        "drafts": known.filter(state=Letter.State.DRAFT).order_by("id"),
        "failed": known.filter(state=Letter.State.FAILED),
        "on_the_way": known.filter(state__in=(Letter.State.WAITING, Letter.State.SENDING)),
        "failed_jobs": Job.objects.filter(state=Job.State.FAILED),
        "page": Paginator(ended, A_PAGE).get_page(request.GET.get("page")),
    }
    return _page(request, "letters", context)


def _by_customer(calls: Iterable[Letter]) -> list[tuple[Customer, list[Letter]]]:
    """One call each, with all that is to be said in it; whoever has waited longest comes first."""
    found: dict[int, tuple[Customer, list[Letter]]] = {}
    for letter in calls:
        found.setdefault(letter.customer_id, (letter.customer, []))[1].append(letter)
    return list(found.values())


@needs("orders.send_letters")
@require_http_methods(["GET", "POST"])
def letter_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One letter as it was written, with what became of it; a draft's words are kept by posting them."""
    letter = _letter(pk)
    if request.method == "GET":
        return _letter_page(request, letter)
    form = DraftForm(request.POST)
    if form.is_valid():
        try:
            drafts.change(letter=letter, by=user_of(request), **form.cleaned_data)
        except Refused as refused:
            add_refusal(form, refused)
        else:
            messages.success(request, _("The draft is kept as you wrote it."))
            return redirect("letter", pk=pk)
    return _letter_page(request, letter, form)


@needs("orders.send_letters")
@require_POST
def letter_send(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a draft, in the words that are posted with it."""
    letter, form = _letter(pk), DraftForm(request.POST)
    if form.is_valid():
        try:
            sent = drafts.send(letter=letter, by=user_of(request), **form.cleaned_data)
        except Refused as refused:
            add_refusal(form, refused)
        else:
            messages.success(
                request, _("“%(subject)s” goes to %(to)s.") % {"subject": sent.subject, "to": sent.to}
            )
            return redirect("letters")
    return _letter_page(request, letter, form)


@needs("orders.send_letters")
@require_POST
def letter_put_aside(request: HttpRequest, pk: int) -> HttpResponse:
    """A draft is not to be sent."""
    try:
        aside = drafts.put_aside(letter=_letter(pk), by=user_of(request))
        messages.success(request, _("“%(subject)s” is put aside.") % {"subject": aside.subject})
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("letters")


@needs("orders.send_letters")
@require_POST
def letter_take_up(request: HttpRequest, pk: int) -> HttpResponse:
    """What was put aside is a draft again."""
    try:
        drafts.take_up(letter=_letter(pk), by=user_of(request))
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("letter", pk=pk)


def _letter(pk: int) -> Letter:
    return get_object_or_404(Letter.objects.select_related("customer", "order", "document"), pk=pk)


def _letter_page(request: HttpRequest, letter: Letter, form: DraftForm | None = None) -> HttpResponse:
    context: dict[str, Any] = {"letter": letter}
    if letter.state == Letter.State.DRAFT:
        context["form"] = form or DraftForm(initial={"subject": letter.subject, "text": letter.text})
    elif form:
        messages.error(
            request, " ".join(map(str, form.non_field_errors())) or _("This letter is no draft any more.")
        )
    return _page(request, "letter", context, shelf="letters", status=422 if form else 200)


@needs("orders.send_letters")
@require_POST
def letter_retry(request: HttpRequest, pk: int) -> HttpResponse:
    """Send a letter, because a person asks for it again."""
    letter = get_object_or_404(Letter, pk=pk)
    try:
        sent = letters.send_again(letter=letter, by=user_of(request))
        messages.success(request, _("“%(subject)s” goes to %(to)s.") % {"subject": sent.subject, "to": sent.to})
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("letters")


@needs("orders.send_letters")
@require_POST
def letter_tick(request: HttpRequest, pk: int) -> HttpResponse:
    """The customer was told by telephone."""
    letter = get_object_or_404(Letter.objects.select_related("customer"), pk=pk)
    try:
        letters.tick(letter=letter, by=user_of(request))
        messages.success(request, _("%(customer)s was told by telephone.") % {"customer": letter.customer})
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("letters")


@needs("orders.send_letters")
@require_POST
def letters_told(request: HttpRequest) -> HttpResponse:
    """The letters that are posted, those that the page showed of one customer, were told in one call."""
    wanted = [int(pk) for pk in request.POST.getlist("letter") if pk.isdecimal()]
    told = list(Letter.objects.select_related("customer").filter(pk__in=wanted))
    try:
        letters.tick_all(told=told, by=user_of(request))
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        for customer in dict.fromkeys(letter.customer for letter in told):
            messages.success(request, _("%(customer)s was told by telephone.") % {"customer": customer})
    return redirect("letters")


@needs("orders.send_letters")
@require_POST
def job_retry(request: HttpRequest, pk: int) -> HttpResponse:
    """Try a piece of the service's own work again."""
    jobs.retry(get_object_or_404(Job, pk=pk))
    messages.success(request, _("It is tried again now."))
    return redirect("letters")


# --- the mailbox ----------------------------------------------------------------------------------------------


@needs("orders.send_letters")
@require_safe
def mailbox(request: HttpRequest) -> HttpResponse:
    """What would have gone over the wire, newest first."""
    _only_with_a_mailbox()
    found = MailboxMessage.objects.defer("raw")
    return _page(request, "mailbox", {"page": Paginator(found, A_PAGE).get_page(request.GET.get("page"))})


@needs("orders.send_letters")
@require_safe
def mailbox_message(request: HttpRequest, pk: int) -> HttpResponse:
    """One message as its reader would see it, and all that is attached."""
    _only_with_a_mailbox()
    kept = get_object_or_404(MailboxMessage, pk=pk)
    message = _parsed(kept)
    text = message.get_body(("plain",))
    context = {
        "kept": kept,
        "headers": [
            (name, message[name]) for name in ("From", "To", "Reply-To", "Date", "Message-ID") if message[name]
        ],
        "text": text.get_content() if text else "",
        "html": message.get_body(("html",)) is not None,
        "attached": [part.get_filename() for part in message.iter_attachments()],
    }
    return _page(request, "mailbox_message", context, shelf="mailbox")


@needs("orders.send_letters")
@require_safe
def mailbox_html(request: HttpRequest, pk: int) -> HttpResponse:
    """The message's HTML on its own, in a sandbox: what is written there can do nothing here."""
    _only_with_a_mailbox()
    body = _parsed(get_object_or_404(MailboxMessage, pk=pk)).get_body(("html",))
    if body is None:
        raise Http404
    answer = HttpResponse(body.get_content())
    answer["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
    return answer


@needs("orders.send_letters")
@require_safe
def mailbox_attachment(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """One attachment, counted from 0, as a file."""
    _only_with_a_mailbox()
    attached = list(_parsed(get_object_or_404(MailboxMessage, pk=pk)).iter_attachments())
    if number >= len(attached):
        raise Http404
    part = attached[number]
    answer = HttpResponse(part.get_payload(decode=True), content_type=part.get_content_type())
    answer["Content-Disposition"] = content_disposition_header(True, part.get_filename() or "file") or "attachment"
    return answer


def _only_with_a_mailbox() -> None:
    if settings.EMAIL_BACKEND != "orders.mailbox.MailboxBackend":
        raise Http404


def _parsed(kept: MailboxMessage) -> EmailMessage:
    return email.message_from_bytes(bytes(kept.raw), policy=email.policy.default)


def _page(
    request: HttpRequest, name: str, context: dict[str, Any], *, shelf: str = "", status: int = 200
) -> HttpResponse:
    here = {"section": "orders", "shelf": shelf or name}
    return render(request, f"orders/papers/{name}.html", here | context, status=status)
