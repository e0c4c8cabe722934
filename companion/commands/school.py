"""`companion school`: all rooms of a school together."""

import json
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from companion.commands.given import GivenDate
from companion.commands.page_file import write_page
from companion.language import _, many
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
        raise click.UsageError(_("The first day lies after the last one."))
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
        write_page(html, school_sheet(look))
        click.echo(_("The sheet is in {html}.", html=html))
    else:
        for line in _lines(look, gathered):
            click.echo(line)


def _share(home: Home, folder: Path, today: date) -> None:
    from companion.school.share import share  # noqa: PLC0415 - DuckDB is an extra
    from companion.settings.settings import load_settings  # noqa: PLC0415 - only here

    click.echo(_(SHARE_CAUTION), err=True)
    name = load_settings(home.settings).school.name if home.settings.exists() else ""
    shared = share(home, folder, name, today)
    if not shared.files:
        click.echo(
            _("Nothing new: no lesson of a week that is over is missing there. This week's come later.")
        )
        return
    files = many("{count} week file", "{count} week files", len(shared.files))
    told = {"lessons": many("{count} lesson", "{count} lessons", shared.lessons), "files": files}
    folder = shared.files[0].parent
    click.echo(
        _(
            "{lessons} and {corrected} in {files} are in {folder}.",
            corrected=_corrected(shared.corrected),
            folder=folder,
            **told,
        )
        if shared.corrected
        else _("{lessons} in {files} are in {folder}.", folder=folder, **told)
    )


def _corrected(count: int) -> str:
    return many("{count} corrected one", "{count} corrected ones", count)


def _gathered_words(gathered: "Gathered") -> str:
    lessons = many("{count} new lesson", "{count} new lessons", gathered.lessons)
    files = many("{count} file", "{count} files", gathered.files)
    if not gathered.corrected:
        return _("{lessons} from {files}.", lessons=lessons, files=files)
    corrected = _corrected(gathered.corrected)
    return _("{lessons} and {corrected} from {files}.", lessons=lessons, corrected=corrected, files=files)


def _lines(look: "SchoolLook", gathered: "Gathered") -> list[str]:
    lines = [_gathered_words(gathered)]
    if not look.lessons:
        return [*lines, _("Nothing can be told yet."), _(RULE)]
    lines.append(
        many(
            "All rooms, {count} lesson, weeks up to that of {day}",
            "All rooms, {count} lessons, weeks up to that of {day}",
            look.lessons,
            day=look.closed,
        )
    )
    lines += [look.ratio, "", _("By grade")]
    lines += [f"- {one.name}: {ratio_words(one.praise, one.reminder)}" for one in look.grades]
    lines += ["", _("Phases in the order of the lesson")]
    for phase in look.phases:
        judged, named = phase.judged, phase.named
        told = _(
            "{phase}: a mark in {judged} of {lessons} lessons; {ratio} {named} of {praises} praises named"
            " a routine.",
            phase=phase.phase,
            judged=judged.count,
            lessons=judged.total,
            ratio=ratio_words(phase.praise, phase.reminder),
            named=named.count,
            praises=named.total,
        )
        lines.append(f"- {told}")
    lines += ["", _("Recognitions by grade")]
    for grade in look.by_grade:
        counts = (f"{name} {grade.lessons[name]}" for name in look.recognitions if name in grade.lessons)
        lines.append(f"- {grade.name}: {', '.join(counts)}")
    lines += ["", _("Weeks, and months where a week is too small")]
    lines += [f"- {one.name}: {ratio_words(one.praise, one.reminder)}" for one in look.spans]
    taught = many("Taught again: {count} times.", "Taught again: {count} times.", look.helped.taught)
    lines += ["", taught, look.helped.sentence, "", _(RULE)]
    return lines
