"""Papers: tagged PDF in our own type, stored as issued, numbered by revision."""

import hashlib
import io
import os
import socket
import subprocess
import sys
from datetime import date
from decimal import Decimal

import pytest
from django.db import transaction
from pypdf import PdfReader

from orders import documents
from orders.models import Document
from tests.factories import CustomerFactory, NurseryFactory, OrderFactory

pytestmark = pytest.mark.papers


def text_of(content: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


def issue(code="31", **more) -> Document:
    data = {"issued": date(2027, 3, 1), "nursery": documents.letterhead(NurseryFactory()), "sum": Decimal("12.50")}
    return documents.issue(
        kind="confirmation",
        code=code,
        title=f"Confirmation of order {code}",
        template="pdf/base.html",
        data=data | more.pop("data", {}),
        **more,
    )


@pytest.mark.django_db
def test_a_paper_is_tagged_and_names_its_title_and_language():
    pdf = PdfReader(io.BytesIO(issue().content))
    assert pdf.metadata.title == "Confirmation of order 31"
    assert pdf.trailer["/Root"]["/Lang"].lower() == "en-gb"
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in pdf.trailer["/Root"]


@pytest.mark.django_db
def test_letters_of_both_font_files_read_back_and_stand_in_our_own_type():
    name = "Žižka & Čapek – 3 € “good”"
    content = issue(data={"customer": {"name": name}}).content
    assert name in text_of(content)
    fonts = {
        str(font.get_object()["/BaseFont"])
        for page in PdfReader(io.BytesIO(content)).pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert all("Atkinson-Next" in font for font in fonts)
    # One embedded font must not serve two files: its letters would be those of the wrong one.
    assert {font.split("+")[1] for font in fonts} >= {"Atkinson-Next", "Atkinson-Next-Ext"}


@pytest.mark.django_db
def test_a_paper_keeps_its_bytes_their_fingerprint_and_its_data():
    order = OrderFactory(code="31")
    paper = Document.objects.get(pk=issue(order=order, customer=order.customer, by="Ada").pk)
    assert paper.sha256 == hashlib.sha256(paper.content).hexdigest()
    assert (paper.order, paper.customer, paper.created_by) == (order, order.customer, "Ada")
    assert (paper.data["issued"], paper.data["sum"]) == ("2027-03-01", "12.50")
    with pytest.raises(TypeError):
        paper.save()
    with pytest.raises(TypeError):
        paper.delete()


@pytest.mark.django_db
def test_each_issue_is_the_next_revision_and_says_so():
    assert [issue().revision, issue().revision, issue(code="32").revision] == [1, 2, 1]
    assert "Revision" not in text_of(Document.objects.get(code="31", revision=1).content)
    assert "revision 2" in text_of(Document.objects.get(code="31", revision=2).content)


@pytest.mark.django_db
def test_one_cause_makes_one_paper():
    first = issue(cause="confirmation:1:1")
    assert issue(cause="confirmation:1:1") == first
    assert issue(cause="confirmation:1:2").revision == 2


@pytest.mark.django_db
def test_two_who_issue_at_once_get_two_revisions(monkeypatch):
    """The other one's revision is stored while ours is being set."""
    render = documents.render

    def slow_render(template, data):
        monkeypatch.setattr(documents, "render", render)
        issue()
        return render(template, data)

    monkeypatch.setattr(documents, "render", slow_render)
    late = issue()
    assert late.revision == 2
    assert "revision 2" in text_of(late.content)


@pytest.mark.django_db(transaction=True)
def test_no_paper_is_set_while_a_transaction_holds_locks():
    with transaction.atomic(), pytest.raises(RuntimeError, match="durable"):
        issue()
    assert not Document.objects.exists()


@pytest.mark.django_db
def test_what_a_customer_is_called_cannot_reach_into_the_paper():
    customer = CustomerFactory(name='<img src="http://127.0.0.1:1/x"><b>Bold</b>')
    text = text_of(issue(data={"customer": documents.addressee(customer)}).content)
    assert "<b>Bold</b>" in text.replace("\n", "")


def test_a_paper_fetches_nothing():
    from orders import typesetting

    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
        typesetting.pdf(
            f'<html lang="en"><title>Paper</title><link rel="stylesheet" href="http://127.0.0.1:{port}/x.css">'
            f'<img src="http://127.0.0.1:{port}/x.png" alt=""><img src="file:///etc/hostname" alt=""></html>'
        )
        server.settimeout(0.2)
        with pytest.raises(TimeoutError):
            server.accept()


@pytest.mark.django_db
def test_without_its_libraries_papers_are_off_and_say_what_to_install(monkeypatch):
    class NoPango:
        """Imports fail as WeasyPrint's does on a machine without pango."""

        def find_spec(self, name, path=None, target=None):
            if name == "orders.typesetting":
                raise OSError(
                    "cannot load library 'libpango-1.0-0': libpango-1.0-0: cannot open shared object file"
                )

    monkeypatch.delitem(sys.modules, "orders.typesetting", raising=False)
    monkeypatch.delattr("orders.typesetting", raising=False)
    monkeypatch.setattr(sys, "meta_path", [NoPango(), *sys.meta_path])
    with pytest.raises(documents.PapersOff, match=r"libpango-1\.0-0"):
        issue()
    assert not Document.objects.exists()


def test_a_machine_without_any_font_sets_papers_in_ours(tmp_path):
    """WeasyPrint segfaults when there is no font at all, so this is tried in a process of its own."""
    (tmp_path / "fonts.conf").write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>'
        f"<cachedir>{tmp_path}</cachedir></fontconfig>"
    )
    program = (
        "import sys, django; django.setup();"
        "from orders.documents import render;"
        "sys.stdout.buffer.write(render('pdf/base.html', {'title': 'Größe', 'issued': None}))"
    )
    env = os.environ | {
        "FONTCONFIG_FILE": str(tmp_path / "fonts.conf"),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    }
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", program], env=env, capture_output=True, timeout=120
    )
    assert done.returncode == 0, done.stderr.decode()
    assert "Größe" in text_of(done.stdout)
