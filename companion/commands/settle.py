"""`companion settle` and `companion reopen`: the count closed with the class, and opened again."""

import click

from companion.commands.append import append_now
from companion.commands.child_codes import WITH_CODES, refuse_codes_in
from companion.commands.chosen import named_session, newest_settled, reviewed_session
from companion.commands.shown import count_line, unfinished_lines
from companion.errors import CompanionError
from companion.language import _, many
from companion.lesson.event import (
    Body,
    CarryOverWritten,
    RecognitionOverruled,
    SelfRated,
    SessionReopened,
    TeacherViewed,
)
from companion.log.store import open_log
from companion.paths import Home
from companion.recording.settling import award_words, settling

RATINGS = ("went well", "so-so", "needs work")


@click.command()
@click.argument("session", required=False)
@click.option("--rating", type=click.Choice(RATINGS), help="How the class rates itself.")
@click.option("--view", help="Your own view of the lesson, in a sentence.")
@click.option("--carry-over", help="What you will say at the start of this class group's next session.")
@click.option("--recognition", help="Another level than the margin says, or 'none'; needs --reason.")
@click.option("--reason", default="", help="Why the recognition is overruled.")
@WITH_CODES
@click.option("--unreviewed", is_flag=True, help="Settle although marks are still unreviewed.")
@click.pass_obj
def settle(
    home: Home,
    *,
    session: str | None,
    rating: str | None,
    view: str | None,
    carry_over: str | None,
    recognition: str | None,
    reason: str,
    with_codes: bool,
    unreviewed: bool,
) -> None:
    """Close the count of a lesson with the class.

    SESSION is a class group or the beginning of a session's name; without it, it is the newest lesson that
    waits.
    """
    with open_log(home.log) as log:
        found = reviewed_session(log, session)
        waiting = len(found.unreviewed)
        if waiting and not unreviewed:
            raise CompanionError(
                many(
                    "{count} mark of {class_group} still unreviewed.",
                    "{count} marks of {class_group} still unreviewed.",
                    waiting,
                    class_group=found.class_group,
                ),
                safe=_("Nothing was settled."),
                remedy=_("Look at them with: companion review; or settle as it is with --unreviewed."),
            )
        levels = [level.name for level in found.levels]
        if recognition and recognition != "none" and recognition not in levels:
            raise CompanionError(
                _("There is no level '{level}'.", level=recognition),
                remedy=_("Use one of: {names}.", names=", ".join([*levels, "none"])),
            )
        if not with_codes:
            refuse_codes_in(found, f"{view or ''} {carry_over or ''}", "Nothing was settled.")
        bodies: list[Body] = []
        if rating:
            bodies.append(SelfRated(rating))
        if view:
            bodies.append(TeacherViewed(view))
        if recognition:
            bodies.append(RecognitionOverruled(None if recognition == "none" else recognition, reason))
        if carry_over is not None:
            bodies.append(CarryOverWritten(carry_over))
        level = recognition or found.recognition
        steps = settling(log, found, None if level == "none" else level)
        found = append_now(log, found, *bodies, *steps)
        award = award_words(log, found)
    for line in unfinished_lines(found):
        click.echo(line)
    settled = _("{class_group} is settled.", class_group=found.class_group)
    click.echo(f"{settled} {count_line(found)}")
    if award:
        click.echo(award)


@click.command()
@click.argument("session", required=False)
@click.option("--reason", prompt="Why is it opened again", help="Why the settled session is opened again.")
@click.pass_obj
def reopen(home: Home, session: str | None, reason: str) -> None:
    """Open a settled session again, for a reason that the log keeps."""
    with open_log(home.log) as log:
        chosen = newest_settled(log) if session is None else named_session(log, session)
        found = append_now(log, chosen, SessionReopened(reason.strip()))
    click.echo(
        _("{class_group} is open again. Settle it anew with: companion settle", class_group=found.class_group)
    )
