"""Addresses of the API of the desk, the season and the work."""

from django.urls import path

from orders.api.records import addresses

from ..views.lots import SeedLotPages
from ..views.places import PersonPages, PlacePages, SkillPages
from . import calendar, desk, holding, levelling, nursery, order_lists, papers, season, season_files, stands, work

urlpatterns = [
    path("promise/", desk.WhatIf.as_view(), name="api_desk_answer"),
    path("lists/", order_lists.TakeList.as_view(), name="api_take_list"),
    path("lists/columns/", order_lists.ListColumns.as_view(), name="api_take_list_empty"),
    path("lists/<int:pk>/", order_lists.TakenList.as_view(), name="api_taken_list"),
    path("lists/<int:pk>/confirm/", order_lists.ConfirmList.as_view(), name="api_taken_list_confirm"),
    path("lists/<int:pk>/rows-to-mend/", order_lists.ListRows.as_view(), name="api_taken_list_rows"),
    path("orders/", desk.Orders.as_view(), name="api_orders"),
    path("orders/<str:code>/confirm/", desk.Confirm.as_view(), name="api_order_confirm"),
    path("orders/<str:code>/hold/", holding.OrderHold.as_view(), name="api_order_hold"),
    path("orders/<str:code>/hold/until/", holding.OrderExtend.as_view(), name="api_order_extend"),
    path("orders/<str:code>/let-go/", holding.OrderLetGo.as_view(), name="api_order_let_go"),
    path("orders/<str:code>/quote/", holding.OrderQuote.as_view(), name="api_order_quote"),
    path("orders/<str:code>/link/", holding.OrderLink.as_view(), name="api_order_link"),
    path("lines/<int:pk>/again/", holding.LineAskAgain.as_view(), name="api_line_ask_again"),
    path("lines/<int:pk>/plan/", desk.LinePlan.as_view(), name="api_line_plan"),
    path("lines/<int:pk>/move/", desk.LineMove.as_view(), name="api_line_move"),
    path("season/", season.SeasonLoad.as_view(), name="api_season"),
    path("season/file/", season_files.SeasonAsFile.as_view(), name="api_season_file"),
    path("season/try/", season_files.SeasonTry.as_view(), name="api_season_try"),
    path("season/level/", levelling.SeasonLevel.as_view(), name="api_season_level"),
    path("season/level/<int:pk>/stop/", levelling.SeasonLevelStop.as_view(), name="api_season_level_stop"),
    path("season/level/<int:pk>/refuse/", levelling.SeasonLevelRefuse.as_view(), name="api_season_level_refuse"),
    path("season/level/<int:pk>/take/", levelling.SeasonLevelTake.as_view(), name="api_season_level_take"),
    path("day/<day:day>/", work.DayWork.as_view(), name="api_day"),
    path("work/as-planned/", work.AllAsPlanned.as_view(), name="api_today_part"),
    path("work/<int:pk>/done/", work.WorkDone.as_view(), name="api_work_done"),
    path("work/<int:pk>/not-today/", work.WorkPutOff.as_view(), name="api_work_put_off"),
    path("parts/<int:pk>/counts/", work.PartCounts.as_view(), name="api_part_counts"),
    path("counts/<uuid:pk>/correct/", work.CountCorrection.as_view(), name="api_count_correct"),
    path("lines/<int:pk>/ready/", work.LineReady.as_view(), name="api_line_ready"),
    path("lines/<int:pk>/notice/", work.LineNotice.as_view(), name="api_line_notice"),
    path("lines/<int:pk>/hand-over/", work.LineHandOver.as_view(), name="api_line_hand_over"),
    path("day/<day:day>/sheet/", papers.DaySheet.as_view(), name="api_day_sheet_paper"),
    path("day/<day:day>/labels/", papers.DayLabels.as_view(), name="api_day_labels"),
    path("batches/<str:code>/labels/", papers.BatchLabels.as_view(), name="api_batch_labels"),
    path("batches/", stands.Batches.as_view(), name="api_batches"),
    path("batches/<str:code>/", stands.BatchDetail.as_view(), name="api_batch"),
    path("stands/<int:pk>/", stands.StandRegroup.as_view(), name="api_stand_regroup"),
    path("parts/<int:pk>/clear/", stands.PartClear.as_view(), name="api_part_clear"),
    path("places/", stands.PlacesTonight.as_view(), name="api_places_tonight"),
    path("places/<int:pk>/", stands.PlaceNights.as_view(), name="api_place"),
    path("lots/<int:pk>/trace/", stands.LotTrace.as_view(), name="api_lot_trace"),
    path("lines/<int:pk>/seed/", stands.LineTrace.as_view(), name="api_line_trace"),
    path("my-calendar/", calendar.MyCalendar.as_view(), name="api_my_calendar"),
    path("standing/", stands.StandingPlants.as_view(), name="api_standing"),
    # the nursery's own data
    *addresses(PlacePages(), PersonPages(), SkillPages(), SeedLotPages()),
    path("nursery/closed-days/", nursery.ClosedDays.as_view(), name="api_closed_days"),
    path("nursery/closed-days/<int:pk>/", nursery.ReopenDay.as_view(), name="api_reopen_day"),
    path("nursery/closed-days/holidays/", nursery.PublicHolidays.as_view(), name="api_public_holidays"),
    path("nursery/protocols/", nursery.Protocols.as_view(), name="api_protocols"),
    path("nursery/protocols/<int:pk>/", nursery.ProtocolDetail.as_view(), name="api_edit_protocol"),
    path("nursery/protocols/<int:pk>/copy/", nursery.CopyProtocol.as_view(), name="api_copy_protocol"),
]
