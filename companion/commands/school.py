"""`companion school`: all rooms of a school together."""

import json
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from companion.commands.given import GivenDate
from companion.lesson.counting import how_many
from companion.lesson.trends import ratio_words
from companion.pages.school_sheet import RULE, SHARE_CAUTION, school_sheet
from companion.paths import Home

if TYPE_CHECKING:
    from companion.school.ask import SchoolLook
    from companion.school.gather import Gathered


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--share", "sharing", is_flag=True, help="Put this room's weeks into FOLDER, and ask nothing.")
@click.option("--since", "--from", "since", type=GivenDate(), metavar="DAY", help="The first day.")
@click.option("--to", "until", type=GivenDate(), metavar="DAY", help="The last day.")
@click.option("--html", type=click.Path(path_type=Path, dir_okay=False), help="Write a sheet to print.")
@click.option("--json", "as_json", is_flag=True, help="Print it as JSON.")
@click.pass_obj
def school(
    home: Home,
    *,
    folder: Path,
    sharing: bool,
    since: datetime | None,
    until: datetime | None,
    html: Path | None,
    as_json: bool,
) -> None:
    """Say what all rooms tell together whose weeks, logs or exports lie in FOLDER, and of no room by itself.

    Praise to reminders, coverage and recognitions by grade, phase and week; what was taught again, and
    whether it helped. Nothing about single children is opened. What was gathered is kept in the home folder,
    and can be thrown away.
    """
    today = datetime.now().astimezone().date()
    if sharing:
        _share(home, folder, today)
        return
    if since and until and since > until:
        raise click.UsageError("The first day lies after the last one.")
    from companion.school.ask import ask, sum_up  # noqa: PLC0415 - DuckDB is an extra
    from companion.school.gather import gather  # noqa: PLC0415 - DuckDB is an extra
    from companion.school.store import store_of  # noqa: PLC0415 - DuckDB is an extra

    store = store_of(home, folder)
    gathered = gather(folder, store, today)
    sum_up(store)
    look = ask(store, since.date() if since else None, until.date() if until else None)
    for problem in gathered.problems:
        click.echo(problem, err=True)
    if as_json:
        click.echo(json.dumps(asdict(look), ensure_ascii=False, indent=2))
    elif html:
        html.write_text(school_sheet(look), encoding="utf-8")
        click.echo(f"The sheet is in {html}.")
    else:
        for line in _lines(look, gathered):
            click.echo(line)


def _share(home: Home, folder: Path, today: date) -> None:
    from companion.school.share import share  # noqa: PLC0415 - DuckDB is an extra
    from companion.settings.settings import load_settings  # noqa: PLC0415 - only here

    click.echo(SHARE_CAUTION, err=True)
    name = load_settings(home.settings).school.name if home.settings.exists() else ""
    shared = share(home, folder, name, today)
    if not shared.files:
        click.echo("Nothing new: no lesson of a week that is over is missing there. This week's come later.")
        return
    lessons, files = how_many(shared.lessons, "lesson"), how_many(len(shared.files), "week file")
    again = f" and {how_many(shared.corrected, 'corrected one')}" if shared.corrected else ""
    click.echo(f"{lessons}{again} in {files} are in {shared.files[0].parent}.")


def _lines(look: "SchoolLook", gathered: "Gathered") -> list[str]:
    again = f" and {how_many(gathered.corrected, 'corrected one')}" if gathered.corrected else ""
    lines = [f"{how_many(gathered.lessons, 'new lesson')}{again} from {how_many(gathered.files, 'file')}."]
    if not look.lessons:
        return [*lines, "Nothing can be told yet.", RULE]
    lines += [f"All rooms, {how_many(look.lessons, 'lesson')}, weeks up to that of {look.closed}"]
    lines += [look.ratio, "", "By grade"]
    lines += [f"- {one.name}: {ratio_words(one.praise, one.reminder)}" for one in look.grades]
    lines += ["", "Phases in the order of the lesson"]
    for phase in look.phases:
        judged, named = phase.judged, phase.named
        lines.append(
            f"- {phase.phase}: a mark in {judged.count} of {judged.total} lessons;"
            f" {ratio_words(phase.praise, phase.reminder)} {named.count} of {named.total} praises named"
            " a routine."
        )
    lines += ["", "Recognitions by grade"]
    for grade in look.by_grade:
        told = (f"{name} {grade.lessons[name]}" for name in look.recognitions if name in grade.lessons)
        lines.append(f"- {grade.name}: {', '.join(told)}")
    lines += ["", "Weeks, and months where a week is too small"]
    lines += [f"- {one.name}: {ratio_words(one.praise, one.reminder)}" for one in look.spans]
    lines += ["", f"Taught again: {look.helped.taught} times.", look.helped.sentence, "", RULE]
    return lines
