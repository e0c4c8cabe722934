"""`companion timetable`: which classes come, so that the settings can be checked by eye."""

from datetime import date, datetime, timedelta

import click

from companion.commands.given import GivenDate
from companion.errors import CompanionError
from companion.language import _
from companion.lesson.day_words import short_weekday
from companion.lesson.timetable import Lesson, Timetable
from companion.paths import Home
from companion.settings.settings import load_settings


@click.command()
@click.argument("on", required=False, type=GivenDate(), metavar="[DATE]")
@click.option(
    "--days", default=7, show_default=True, type=click.IntRange(1, 400), help="How many days to show."
)
@click.pass_obj
def timetable(home: Home, on: datetime | None, days: int) -> None:
    """Show the lessons of the coming days, from DATE (2026-09-14) or today."""
    section = load_settings(home.settings).timetable
    if section is None:
        raise CompanionError(
            _("There is no timetable in the settings."),
            safe=_("Sessions open by hand."),
            remedy=_("Add a [timetable] table if they should open by themselves."),
        )
    held = section.timetable()
    begin = on.date() if on else datetime.now(held.zone).date()
    for count in range(days):
        for line in _day(held, begin + timedelta(days=count)):
            click.echo(line)


def _day(held: Timetable, on: date) -> list[str]:
    """Return the lines for one date."""
    name = held.days.get(on)
    if name is None:
        return [f"{_day_name(on)} {on}  {_('no school')}"]
    day = f" ({_('day {name}', name=name)})" if held.rotation else ""
    return [f"{_day_name(on)} {on}{day}", *(_line(lesson) for lesson in held.lessons_on(on))]


def _day_name(on: date) -> str:
    """Return the day of the week as the settings write it: `mon`."""
    return short_weekday(on).lower()


def _line(lesson: Lesson) -> str:
    what = " · ".join(filter(None, (lesson.class_group, lesson.plan, lesson.room)))
    return f"  {lesson.begins:%H:%M}-{lesson.ends:%H:%M}  {what}"
