"""`companion demo`: a whole lesson of Alder Lane School, from its sound to the hand-off note."""

from pathlib import Path

import click
from rich.console import Console

from companion.commands.append import append_now
from companion.commands.replay import play_into_log
from companion.commands.shown import count_line, print_reflection, print_review_list
from companion.lesson import review
from companion.lesson.counting import how_many, minute
from companion.lesson.event import CarryOverWritten, SelfRated, SessionSettled, TeacherViewed
from companion.lesson.handoff import as_text, hand_off_note
from companion.lesson.scoring import Score, score
from companion.lesson.session import Session
from companion.log.store import open_log
from companion.paths import Home
from companion.samples.corrections import correct
from companion.samples.sample import Sample, bundled_sample, load_sample, sample_names


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
    length = sample.settings.session.class_group if sample.settings.session else sample.folder.name
    console.print(f"A lesson of {length} at {sample.settings.school.name}", style="bold")
    session = play_into_log(demo_home.log, sample.sound, sample.settings, console, engine=engine)
    heard = score(session.marks, sample.truth)
    if open_page:
        from companion.pages.serve import serve_log  # noqa: PLC0415 - the web server only where it serves

        _print_score(console, heard, session)
        serve_log(demo_home, session.id, open_browser=True)
        return
    _title(console, "Review")
    print_review_list(console, session)
    session = _review_and_settle(console, demo_home, session, sample)
    _title(console, "Reflection with the class")
    print_reflection(console, session)
    _title(console, "Recognition")
    console.print(count_line(session), markup=False)
    _title(console, "Hand-off note")
    console.print(as_text(hand_off_note(session)), markup=False)
    _title(console, "Next time")
    console.print(session.carry_over or "Nothing was left unsaid.", markup=False)
    _title(console, "What was heard")
    _print_score(console, heard, session)
    console.print(f"The session log is {demo_home.log}", markup=False)
    console.print(
        f'Look further: companion --home "{demo_home.folder}" sessions (review, note …)', markup=False
    )


def _title(console: Console, title: str) -> None:
    console.print()
    console.print(title, style="bold underline", markup=False)


def _review_and_settle(console: Console, home: Home, session: Session, sample: Sample) -> Session:
    """Apply the sample's own corrections, keep what is left, and settle the count."""
    _title(console, "Corrections")
    said = sample.script.reflection
    with open_log(home.log) as log:
        for correction in sample.script.corrections:
            step = correct(session, correction)
            console.print(step.said, markup=False)
            session = append_now(log, session, *step.bodies)
        left = session.unreviewed
        session = append_now(log, session, *review.keep_all(session))
        console.print(f"{len(left)} other marks kept as they are", markup=False)
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
        f"Of {spoken} spoken marks {len(heard.found)} were found and {len(heard.missed)} missed; "
        f"{len(heard.false)} false; {how_many(near, 'near miss', 'near misses')} for the review.",
        markup=False,
    )
    for missed in heard.missed:
        console.print(
            f"  missed: {minute(missed.begin_ms)} “{missed.phrase}” in {missed.phase}", markup=False
        )
    for false in heard.false:
        console.print(f"  false: {minute(false.at_ms)} “{false.phrase}” in {false.phase}", markup=False)
    for mark in heard.wrong_phase:
        console.print(
            f"  in the wrong phase: {minute(mark.at_ms)} “{mark.phrase}” in {mark.stamped_phase}",
            markup=False,
        )
