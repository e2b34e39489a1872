"""Addresses of the desk, the season, the work and the nursery's places and protocols."""

from django.urls import URLPattern, path, register_converter

from .converters import DayConverter
from .views import closing, desk, lines, lots, papers, places, protocols, season, today

register_converter(DayConverter, "day")

urlpatterns: list[URLPattern] = [
    # the desk: a new order, its answer, confirming
    path("desk/", desk.new_order, name="desk"),
    path("desk/answer/", desk.answer, name="desk_answer"),
    path("lines/<int:pk>/plan/", lines.line_plan, name="line_plan"),
    path("orders/<str:code>/confirm/", lines.confirm, name="order_confirm"),
    # the season
    path("season/", season.season, name="season"),
    path("lines/<int:pk>/move/", season.line_move, name="line_move"),
    # today, batches, places, standing plants, hand-over
    path("", today.today, name="today"),
    path("today/<str:part>/", today.today_part, name="today_part"),
    path("day/<day:day>/", today.day, name="day"),
    path("work/<int:pk>/done/", today.work_done, name="work_done"),
    path("work/<int:pk>/not-today/", today.work_put_off, name="work_put_off"),
    path("day/<day:day>/sheet.pdf", papers.day_sheet, name="day_sheet_paper"),
    path("day/<day:day>/labels.pdf", papers.day_labels, name="day_labels"),
    path("batches/<str:code>/labels.pdf", papers.batch_labels, name="batch_labels"),
    # places, hands, calendar, protocols and seed lots
    *places.PlacePages().urls(),
    *places.PersonPages().urls(),
    *places.SkillPages().urls(),
    *lots.SeedLotPages().urls(),
    path("nursery/protocols/", protocols.protocols, name="protocols"),
    path("nursery/protocols/<int:pk>/", protocols.protocol, name="protocol"),
    path("nursery/protocols/<int:pk>/edit/", protocols.edit_protocol, name="edit_protocol"),
    path("nursery/protocols/<int:pk>/copy/", protocols.copy_protocol, name="copy_protocol"),
    path("nursery/closed-days/", closing.closed_days, name="closed_days"),
    path("nursery/closed-days/<int:pk>/open/", closing.reopen_day, name="reopen_day"),
    path("nursery/closed-days/holidays/", closing.public_holidays, name="public_holidays"),
]
