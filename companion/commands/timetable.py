"""`companion timetable`: which classes come, so that the settings can be checked by eye."""

from datetime import date, datetime, timedelta

import click

from companion.commands.given import GivenDate
from companion.errors import CompanionError
from companion.lesson.timetable import Lesson, Timetable, weekday
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
            "There is no timetable in the settings.",
            safe="Sessions open by hand.",
            remedy="Add a [timetable] table if they should open by themselves.",
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
        return [f"{weekday(on)} {on}  no school"]
    day = f" (day {name})" if held.rotation else ""
    return [f"{weekday(on)} {on}{day}", *(_line(lesson) for lesson in held.lessons_on(on))]


def _line(lesson: Lesson) -> str:
    what = " · ".join(filter(None, (lesson.class_group, lesson.plan, lesson.room)))
    return f"  {lesson.begins:%H:%M}-{lesson.ends:%H:%M}  {what}"
