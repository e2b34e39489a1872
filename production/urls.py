"""Addresses of the desk, the season, the work and the nursery's places and protocols."""

from django.urls import URLPattern, path, register_converter

from .converters import DayConverter
from .views import (
    batches,
    closing,
    desk,
    handing_over,
    holding,
    levelling,
    lines,
    lots,
    papers,
    place,
    places,
    protocols,
    season,
    season_files,
    standing,
    today,
)

register_converter(DayConverter, "day")

urlpatterns: list[URLPattern] = [
    # the desk: a new order, its answer, confirming
    path("desk/", desk.new_order, name="desk"),
    path("desk/answer/", desk.answer, name="desk_answer"),
    path("lines/<int:pk>/plan/", lines.line_plan, name="line_plan"),
    path("orders/<str:code>/confirm/", lines.confirm, name="order_confirm"),
    path("orders/<str:code>/hold/", holding.order_hold, name="order_hold"),
    path("orders/<str:code>/hold/until/", holding.order_extend, name="order_extend"),
    path("orders/<str:code>/let-go/", holding.order_let_go, name="order_let_go"),
    path("orders/<str:code>/quote/", holding.order_quote, name="order_quote"),
    path("orders/<str:code>/link/", holding.order_link, name="order_link"),
    path("lines/<int:pk>/again/", holding.line_ask_again, name="line_ask_again"),
    # the season
    path("season/", season.season, name="season"),
    path("season/file/", season_files.season_file, name="season_file"),
    path("season/try/", season_files.season_try, name="season_try"),
    path("season/level/", levelling.season_level, name="season_level"),
    path("season/level/<int:pk>/stop/", levelling.season_level_stop, name="season_level_stop"),
    path("season/level/<int:pk>/refuse/", levelling.season_level_refuse, name="season_level_refuse"),
    path("season/level/<int:pk>/take/", levelling.season_level_take, name="season_level_take"),
    path("lines/<int:pk>/move/", season.line_move, name="line_move"),
    # today, batches, places, standing plants, hand-over
    path("", today.today, name="today"),
    path("today/<str:part>/", today.today_part, name="today_part"),
    path("day/<day:day>/", today.day, name="day"),
    path("work/<int:pk>/done/", today.work_done, name="work_done"),
    path("work/<int:pk>/not-today/", today.work_put_off, name="work_put_off"),
    path("batches/", batches.batch_list, name="batches"),
    path("batches/<str:code>/", batches.batch, name="batch"),
    path("batches/<str:code>/<int:number>/count/", batches.batch_count, name="batch_count"),
    path("counts/<uuid:pk>/correct/", batches.count_correct, name="count_correct"),
    path("stands/<int:pk>/", batches.stand_regroup, name="stand_regroup"),
    path("parts/<int:pk>/clear/", batches.part_clear, name="part_clear"),
    path("places/", place.places_tonight, name="places_tonight"),
    path("places/<int:pk>/", place.place, name="place"),
    path("standing/", standing.standing, name="standing"),
    path("lines/<int:pk>/ready/", handing_over.line_ready, name="line_ready"),
    path("lines/<int:pk>/notice/", handing_over.line_notice, name="line_notice"),
    path("lines/<int:pk>/hand-over/", handing_over.line_hand_over, name="line_hand_over"),
    path("lines/<int:pk>/seed/", handing_over.line_trace, name="line_trace"),
    path("lots/<int:pk>/trace/", handing_over.lot_trace, name="lot_trace"),
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
