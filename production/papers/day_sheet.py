"""The day sheet: a day's work on paper, by part of day, with boxes to tick and room for what was counted."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orders.documents import letterhead
from orders.models import Nursery, User

from ..queries.today import Task, day_sheet


def day_sheet_data(day: date, *, today: date, nursery: Nursery, user: User | None = None) -> dict[str, Any]:
    """The work of a day as the sheet prints it; with a user, only what that person's skills allow."""
    sheet = day_sheet(day, today=today, user=user, everything=user is None)
    return {
        "nursery": letterhead(nursery),
        "title": _("Work on %(day)s") % {"day": date_format(day, "l j F Y")},
        "day": day,
        "today": today,
        "sections": [
            {"key": section.key, "name": section.name, "tasks": [_task(task) for task in section.tasks]}
            for section in sheet.sections
        ],
        "minutes": sheet.minutes,
        "late": sheet.late,
        "next_day": sheet.next_day,
    }


def _task(task: Task) -> dict[str, Any]:
    return {
        "title": task.title,
        "where": task.where,
        "note": task.note,
        "figure": task.figure,
        "unit": task.unit,
        "counted": str(task.counted),
        "minutes": task.minutes,
        "late_since": task.late_since,
        "may_wait": task.may_wait,
        "waits": task.waits,
        "lots": [(lot.code, seeds) for lot, seeds in task.lots],
    }
