"""The strand and the type of papers, printed by WeasyPrint and read back by pypdf."""

from dataclasses import replace
from datetime import date
from io import BytesIO

import pytest
from django.conf import settings
from django.template import Context, Template
from pypdf import PdfReader

from orders.strand import Strand, Stretch, sentence
from orders.templatetags.strands import INKS, fixed

STRAND = Strand(
    method="side",
    rootstock_sown=(date(2026, 2, 16),),
    scion_sown=(date(2026, 2, 14), date(2026, 2, 18)),
    grafted=(date(2026, 3, 18),),
    healing=Stretch(date(2026, 3, 18), date(2026, 3, 21)),
    notch=date(2026, 3, 23),
    final_cut=date(2026, 3, 25),
    hardening=Stretch(date(2026, 3, 21), date(2026, 3, 25)),
    growing_on=Stretch(date(2026, 3, 25), date(2026, 4, 14)),
    ready=date(2026, 4, 14),
    pickup=date(2026, 4, 16),
    window=(date(2026, 4, 16), date(2026, 4, 18)),
)
# Letters of Latin, Latin Extended-A and the minus sign: each part of the type has to find its own.
LETTERS = "Žďár Łódź Ågård Señor −12 €"


def printed(body: str, **context: object) -> PdfReader:
    from weasyprint import CSS, HTML
    from weasyprint.text.fonts import FontConfiguration

    fonts = FontConfiguration()

    page = Template("{% load strands %}" + body).render(Context(context))
    type_of_papers = CSS(filename=settings.BASE_DIR / "config/static/fonts/paper.css", font_config=fonts)
    rule = CSS(string='html { font-family: "Atkinson Next", "Atkinson Next Ext" }')
    paper = HTML(string=f'<html lang="en"><body>{page}</body></html>')
    return PdfReader(BytesIO(paper.write_pdf(stylesheets=[type_of_papers, rule], font_config=fonts)))


@pytest.mark.papers
def test_every_letter_is_printed_as_itself_in_our_own_type():
    pdf = printed(f"<p>{LETTERS}</p><p><strong>{LETTERS}</strong> <em>{LETTERS}</em></p>")
    read = " ".join(pdf.pages[0].extract_text().split())  # some see two spaces where the type changes
    assert read.count(LETTERS) == 3
    fonts = {font["/BaseFont"].split("+")[-1] for font in all_fonts(pdf)}
    assert fonts
    assert all(name.startswith("Atkinson-Next") for name in fonts), fonts


@pytest.mark.papers
def test_a_printed_strand_carries_its_dates_and_its_strokes():
    pdf = printed("{% strand_paper strand %}", strand=STRAND)
    text = pdf.pages[0].extract_text().replace(" ", "")  # spaces of small type are lost in reading back
    assert "16Mar" in text
    assert "13Apr" in text
    drawn = pdf.pages[0].get_contents().get_data() + b"".join(
        form.get_object().get_data() for form in forms(pdf) if form.get_object()["/Subtype"] == "/Form"
    )
    leaf = b"0.121569 0.419608 0.290196"  # #1f6b4a
    assert leaf in drawn


def test_every_mark_has_its_ink_and_its_words_stand_beside_it():
    html = Template("{% load strands %}{% strand_paper strand %}").render(Context({"strand": STRAND}))
    assert f"<title>{sentence(STRAND)}</title>" in html
    assert "class=" not in html.split("<title>")[1]
    assert html.count("stroke-dasharray") >= 2


def test_what_is_to_come_is_printed_lighter():
    html = Template("{% load strands %}{% strand_paper strand %}").render(
        Context({"strand": replace(STRAND, today=date(2026, 3, 20))})
    )
    assert ' opacity=".6"' in html


def test_a_label_fits_the_strand_in_a_small_width():
    html = Template("{% load strands %}{% strand_paper strand width=200 dates=False %}").render(
        Context({"strand": STRAND})
    )
    assert 'viewBox="-6 0 212 40"' in html
    assert "<text" not in html


def test_fixed_marks_keep_the_pixels_before_the_graft():
    from orders.strand import Mark

    stroke = fixed(Mark("scion", "line", 0.1, 0.5, y=13, dx2=-9), 600)
    assert (stroke.x1, stroke.x2, stroke.ink) == ("60", "291", INKS["scion"])


def all_fonts(pdf: PdfReader) -> list:
    return [font.get_object() for page in pdf.pages for font in page["/Resources"]["/Font"].values()]


def forms(pdf: PdfReader) -> list:
    return list(pdf.pages[0]["/Resources"].get("/XObject", {}).values())
