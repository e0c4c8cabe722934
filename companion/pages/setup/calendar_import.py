"""Takes the week over from a calendar file."""

from datetime import date
from typing import Any

import tomlkit
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, many
from companion.lesson.timetable import USUAL
from companion.pages.desk import Desk, desk_of, then, wish_of
from companion.pages.setup.calendar import CalendarWeek, week_in
from companion.pages.setup.page import saved
from companion.pages.setup.week_file import begin_timetable, cells_of, days_of, periods_of, put
from companion.settings.file import amend
from companion.settings.settings import load_settings

MOST_BYTES = 5_000_000


async def take_over(request: Request) -> Response:
    """Put what a calendar file says into the week."""
    desk = desk_of(request)
    async with request.form() as form:
        file = form.get("calendar")
        data = await file.read(MOST_BYTES + 1) if isinstance(file, UploadFile) else b""
        return await run_in_threadpool(_take_over, desk, form, data)


def _take_over(desk: Desk, form: FormData, data: bytes) -> Response:
    wish_of(form)
    if not 0 < len(data) <= MOST_BYTES:
        raise CompanionError(
            _("No calendar file was chosen, or it is longer than 5 MB."),
            remedy=_("Export only the calendar of your lessons."),
        )
    settings, today = load_settings(desk.home.settings), desk.clock()
    timetable = settings.timetable
    if timetable is not None and timetable.rotation:
        raise CompanionError(
            _("A calendar goes by weekdays, and this week by a rotation."),
            safe=_("Nothing was changed."),
            remedy=_("Paste the week instead, or empty the rotation first."),
        )
    year = _year(today.date()) if timetable is None else (timetable.begins, timetable.ends)
    zone = timetable.timetable().zone if timetable else today.tzinfo
    assert zone is not None
    found = week_in(data, max(year[0], min(today.date(), year[1])), year[1], zone)
    told: list[str] = []
    amend(desk.home.settings, lambda document: told.append(_put_in(document, found, year)))
    return then(saved("week", *told))


def _year(today: date) -> tuple[date, date]:
    return today, date(today.year + (today.month >= 7), 6, 30)


def _put_in(document: tomlkit.TOMLDocument, week: CalendarWeek, year: tuple[date, date]) -> str:
    if "timetable" not in document:
        spans = sorted({slot.span for slot in week.slots})
        begin_timetable(document, year, (), spans)
    timetable: Any = document["timetable"]
    usual = timetable["hours"][USUAL]
    held, days, taken, left = cells_of(timetable), days_of(timetable), 0, list(week.left_out)
    for slot in sorted(week.slots, key=lambda slot: slot.span):
        period = next((str(name) for name, span in usual.items() if _plain(span) == slot.span), "")
        if not period:
            names = periods_of(timetable)
            period = next(str(number) for number in range(1, 99) if str(number) not in names)
            usual[period] = slot.span
        if (
            slot.day not in days
            or held.get((slot.day, period), (slot.class_group, ""))[0] != slot.class_group
        ):
            left.append(slot.class_group)
            continue
        put(timetable, slot.day, period, (slot.class_group, held.get((slot.day, period), ("", ""))[1]))
        taken += 1
    free = [day for day in week.free if day not in timetable.get("no_school", ())]
    if free:
        timetable["no_school"] = [*timetable.get("no_school", ()), *free]
    told = [many("{count} lesson taken over", "{count} lessons taken over", taken)]
    told += [many("{count} day without school", "{count} days without school", len(free))] if free else []
    if left:
        others = ", ".join(dict.fromkeys(left))
        told.append(_("left out, since something else is at that time: {names}", names=others))
    return f"{'; '.join(told)}."


def _plain(span: object) -> str:
    """Return a time of the file as the calendar's are written: `8:30 - 9:15` is `08:30-09:15`."""
    return "-".join(part.strip().zfill(5) for part in str(span).replace("–", "-").split("-"))
