"""Words that every page and letter uses for days, hours and states, and the way to a section."""

import re
from datetime import date
from pathlib import Path

import pytest
from django.template import Context, Template
from django.test import RequestFactory

from orders.templatetags.house import day, full_day, hours, near_day, status, way_to
from tests.factories import UserFactory

TODAY = date(2026, 4, 21)  # a Tuesday


def test_a_day_is_said_with_its_year_only_where_that_differs():
    assert day(TODAY) == "Tue 21 April"
    assert day(TODAY, date(2026, 1, 1)) == "Tue 21 April"
    assert day(TODAY, date(2025, 12, 31)) == "Tue 21 April 2026"
    assert day(None) == ""


def test_the_head_of_the_page_says_the_whole_weekday():
    assert full_day(TODAY) == "Tuesday 21 April"
    assert full_day(None) == ""


@pytest.mark.parametrize(
    ("when", "said"), [(21, "today"), (22, "tomorrow"), (20, "yesterday"), (23, "Thu 23 April")]
)
def test_days_close_by_are_said_as_people_do(when, said):
    assert near_day(date(2026, 4, when), TODAY) == said


@pytest.mark.parametrize(
    ("minutes", "said"), [(130, "2 h 10 min"), (60, "1 h"), (25, "25 min"), (0, "0 min"), (119.6, "2 h")]
)
def test_minutes_are_said_in_hours(minutes, said):
    assert hours(minutes) == said


def test_a_state_has_its_word_beside_its_look():
    assert status("let_go") == {"code": "let-go", "word": "let go"}
    html = Template('{% load house %}{% status "paid_in_part" %}').render(Context())
    assert html.strip() == '<span class="status paid-in-part">paid in part</span>'


def context_at(path: str, **extra: object) -> Context:
    return Context({"request": RequestFactory().get(path), **extra})


def test_the_way_to_a_section_is_marked_within_it():
    assert 'aria-current="page"' in way_to(context_at("/sign-in/forgotten/"), "sign_in", "Sign in")
    assert "aria-current" not in way_to(context_at("/other/"), "sign_in", "Sign in")


def test_an_overview_is_marked_only_where_it_stands():
    assert "aria-current" not in way_to(context_at("/sign-in/more/"), "sign_in", "Overview", only=True)
    assert "aria-current" in way_to(context_at("/sign-in/"), "sign_in", "Overview", only=True)


def test_a_page_may_say_for_itself_where_it_belongs():
    assert "aria-current" in way_to(context_at("/elsewhere/", section="sign_in"), "sign_in", "Sign in")
    assert "aria-current" not in way_to(context_at("/sign-in/", section="today"), "sign_in", "Sign in")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("role", "sections"), [("grower", "today orders season money nursery"), ("crew", "today season"), (None, "")]
)
def test_the_sections_are_those_that_one_may_open(role, sections):
    context = context_at("/", user=UserFactory(role=role))
    names = ("today", "orders", "season", "money", "nursery")
    assert [name for name in names if way_to(context, name, name)] == sections.split()


def test_no_way_leads_to_a_page_that_is_not_there():
    assert way_to(context_at("/"), "no_such_page", "Nowhere") == ""


LETTERS = sorted((Path(__file__).parents[2] / "templates/email").glob("*.txt"))


@pytest.mark.parametrize("letter", LETTERS, ids=lambda path: path.name)
def test_a_letter_begins_its_first_sentence_with_a_capital(letter):
    """As English letters do after 'Dear …,', whose line ends with a comma (common practice, no source)."""
    _greeting, _include, text = letter.read_text().partition('{% include "email/_greeting.txt" %}')
    before_the_lines = text.partition("{% for ")[0]
    assert not re.findall(r"\{% blocktranslate[^%]*%\}([a-z]\w*)", before_the_lines)
