"""`companion history`: what weeks of lessons say."""

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import click

from companion.commands.given import GivenDate
from companion.errors import CompanionError
from companion.language import _, many
from companion.lesson.trends import ratio_words
from companion.log.store import open_log
from companion.log.weeks import Within
from companion.paths import Home

if TYPE_CHECKING:
    from companion.weeks.history import History

USUAL_WEEKS = 12
NO_END = date.max


@click.command()
@click.argument("class_group", required=False, metavar="[CLASS_GROUP]")
@click.option("--all", "everyone", is_flag=True, help="All class groups together.")
@click.option(
    "--since", "--from", "since", type=GivenDate(), metavar="DAY", help="The first day, as in 2026-09-01."
)
@click.option("--to", "until", type=GivenDate(), metavar="DAY", help="The last day.")
@click.option("--with-guests", is_flag=True, help="Also lessons that a guest taught.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@click.pass_obj
def history(
    home: Home,
    *,
    class_group: str | None,
    everyone: bool,
    since: datetime | None,
    until: datetime | None,
    with_guests: bool,
    as_json: bool,
) -> None:
    """Say what the last weeks tell of a class group, or of all: ratio, phases, what to teach again.

    Without --since, the last twelve weeks.
    """
    if bool(class_group) == everyone:
        raise click.UsageError(_("Name one class group, or say --all."))
    from companion.weeks.history import history as look  # noqa: PLC0415 - numpy takes its time to import

    today = datetime.now().astimezone().date()
    first = since.date() if since else today - timedelta(weeks=USUAL_WEEKS)
    last = until.date() if until else NO_END
    if first > last:
        raise click.UsageError(_("The first day lies after the last one."))
    within = Within(class_group, first.isoformat(), last.isoformat(), with_guests)
    with open_log(home.log) as log:
        if class_group and class_group not in log.class_groups():
            raise CompanionError(
                _("The log has no lesson of {class_group}.", class_group=class_group),
                remedy=_("It has lessons of {groups}.", groups=", ".join(log.class_groups()))
                if log.class_groups()
                else _("It has lessons of no class group yet."),
            )
        found = look(log, within, today)
    if as_json:
        click.echo(json.dumps(_values(found), ensure_ascii=False, indent=2))
        return
    for line in _lines(found):
        click.echo(line)


def _lines(found: "History") -> list[str]:
    lessons = many(
        "{group}, {count} lesson since {day}",
        "{group}, {count} lessons since {day}",
        found.lessons,
        group=found.within.class_group or _("all class groups"),
        day=found.within.since,
    )
    lines = [lessons, ratio_words(found.praise, found.reminder)]
    lines += ["", _("Phases in the order of the lesson")]
    for phase in found.phases:
        rarely = f" {_('Rarely judged.')}" if phase.rarely else ""
        lines.append(f"- {phase.sentence} {ratio_words(phase.praise, phase.reminder)}{rarely}")
    lines += ["", _("Routines to teach again")]
    lines += [f"- {need.cell.class_group}: {need.sentence}" for need in found.needs]
    if not found.needs:
        lines.append(_("None: no routine needs reminders so often that it could not be chance."))
    if found.effects:
        lines += ["", _("Did it help"), *(f"- {one.sentence}" for one in found.effects)]
    return lines


def _values(found: "History") -> dict[str, Any]:
    """Return the history as JSON knows it."""
    return {
        "class_group": found.within.class_group,
        "since": found.within.since,
        "until": None if found.within.until == NO_END.isoformat() else found.within.until,
        "lessons": found.lessons,
        "praise": found.praise,
        "reminder": found.reminder,
        "phases": [asdict(phase) | {"rarely": phase.rarely} for phase in found.phases],
        "teach_again": [
            {
                "class_group": need.cell.class_group,
                "phase": need.cell.phase,
                "routine": need.cell.routine,
                "lessons": need.cell.lessons,
                "needy": need.cell.count,
                "likely": need.rate.interval(),
                "doubt": need.doubt,
                "sentence": need.sentence,
            }
            for need in found.needs
        ],
        "taught_again": [
            {"sentence": one.sentence, **asdict(one.taught), **asdict(one.effect)} for one in found.effects
        ],
    }
