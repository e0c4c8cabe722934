"""`companion demo`: a whole lesson of Alder Lane School, from its sound to the hand-off note."""

from pathlib import Path

import click
from rich.console import Console

from companion.commands.append import append_now
from companion.commands.replay import play_into_log
from companion.commands.shown import count_line, print_reflection, print_review_list
from companion.language import _, later, many
from companion.lesson import review
from companion.lesson.counting import minute
from companion.lesson.event import CarryOverWritten, SelfRated, SessionSettled, TeacherViewed
from companion.lesson.handoff import as_text, hand_off_note
from companion.lesson.scoring import Score, score
from companion.lesson.session import Session
from companion.log.store import open_log
from companion.paths import Home
from companion.samples.corrections import correct
from companion.samples.sample import Sample, bundled_sample, load_sample, sample_names

MISSED = later("missed: {at} “{phrase}” in {phase}")
FALSE = later("false: {at} “{phrase}” in {phase}")
ELSEWHERE = later("in the wrong phase: {at} “{phrase}” in {phase}")


@click.command()
@click.option(
    "--sample", "name", default="calm-garden", help="Which sample session, or a folder of your own."
)
@click.option("--engine", help="What listens; by default what the sample says.")
@click.option(
    "--open", "open_page", is_flag=True, help="Show the review page instead of correcting by script."
)
@click.pass_obj
def demo(home: Home, *, name: str, engine: str | None, open_page: bool) -> None:
    """Play a sample lesson, review it, settle it and print its hand-off note.

    The demo has a session log of its own; yours is not touched.
    """
    sample = (
        load_sample(Path(name))
        if name not in sample_names() and Path(name).is_dir()
        else bundled_sample(name)
    )
    console = Console(highlight=False, markup=False, soft_wrap=True)
    demo_home = Home(home.folder / "demo").create()
    group = sample.settings.session.class_group if sample.settings.session else sample.folder.name
    told = _("A lesson of {class_group} at {school}", class_group=group, school=sample.settings.school.name)
    console.print(told, style="bold")
    session = play_into_log(demo_home.log, sample.sound, sample.settings, console, engine=engine)
    heard = score(session.marks, sample.truth)
    if open_page:
        from companion.pages.serve import serve_log  # noqa: PLC0415 - the web server only where it serves

        _print_score(console, heard, session)
        serve_log(demo_home, session.id, open_browser=True)
        return
    _title(console, _("Review"))
    print_review_list(console, session)
    session = _review_and_settle(console, demo_home, session, sample)
    _title(console, _("Reflection with the class"))
    print_reflection(console, session)
    _title(console, _("Recognition"))
    console.print(count_line(session), markup=False)
    _title(console, _("Hand-off note"))
    console.print(as_text(hand_off_note(session)), markup=False)
    _title(console, _("Next time"))
    console.print(session.carry_over or _("Nothing was left unsaid."), markup=False)
    _title(console, _("What was heard"))
    _print_score(console, heard, session)
    console.print(_("The session log is {log}", log=demo_home.log), markup=False)
    console.print(
        _(
            "Look further: {command} (review, note …)",
            command=f'companion --home "{demo_home.folder}" sessions',
        ),
        markup=False,
    )


def _title(console: Console, title: str) -> None:
    console.print()
    console.print(title, style="bold underline", markup=False)


def _review_and_settle(console: Console, home: Home, session: Session, sample: Sample) -> Session:
    """Apply the sample's own corrections, keep what is left, and settle the count."""
    _title(console, _("Corrections"))
    said = sample.script.reflection
    with open_log(home.log) as log:
        for correction in sample.script.corrections:
            step = correct(session, correction)
            console.print(step.said, markup=False)
            session = append_now(log, session, *step.bodies)
        left = session.unreviewed
        session = append_now(log, session, *review.keep_all(session))
        kept = many("{count} other mark kept as it is", "{count} other marks kept as they are", len(left))
        console.print(kept, markup=False)
        if said.self_rating:
            session = append_now(log, session, SelfRated(said.self_rating))
        if said.teacher_view:
            session = append_now(log, session, TeacherViewed(said.teacher_view))
        session = append_now(log, session, CarryOverWritten(said.carry_over))
        return append_now(log, session, SessionSettled())


def _print_score(console: Console, heard: Score, session: Session) -> None:
    spoken = len(heard.found) + len(heard.missed)
    near = len(session.near_misses)
    console.print(
        _(
            "Of {spoken} spoken marks {found} were found and {missed} missed; {false} false; "
            "{near_misses} for the review.",
            spoken=spoken,
            found=len(heard.found),
            missed=len(heard.missed),
            false=len(heard.false),
            near_misses=many("{count} near miss", "{count} near misses", near),
        ),
        markup=False,
    )
    for missed in heard.missed:
        said = _(MISSED, at=minute(missed.begin_ms), phrase=missed.phrase, phase=missed.phase)
        console.print(f"  {said}", markup=False)
    for false in heard.false:
        said = _(FALSE, at=minute(false.at_ms), phrase=false.phrase, phase=false.phase)
        console.print(f"  {said}", markup=False)
    for mark in heard.wrong_phase:
        said = _(ELSEWHERE, at=minute(mark.at_ms), phrase=mark.phrase, phase=mark.stamped_phase)
        console.print(f"  {said}", markup=False)
