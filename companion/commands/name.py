"""`companion name`: which class group a session is of, said afterwards."""

import click

from companion.background.control import NoAnswerError, NotRunningError, ask
from companion.commands.append import append_now
from companion.commands.chosen import named_session
from companion.language import _
from companion.lesson.day_words import day_words, hour
from companion.lesson.mark import Source
from companion.log.store import open_log
from companion.paths import Home
from companion.recording.naming import naming
from companion.settings.settings import load_settings


@click.command()
@click.argument("class_group")
@click.option("--plan", help="Name of the plan, where it was not the right one.")
@click.option("--session", help="Of another session than the open or the newest one.")
@click.pass_obj
def name(home: Home, class_group: str, plan: str | None, session: str | None) -> None:
    """Say that a session is one of CLASS_GROUP, when it was opened as another class or as none."""
    with open_log(home.log) as log:
        wanted = "" if session is None else named_session(log, session).id
        try:
            told = ask(
                home.control, {"do": "name", "class_group": class_group, "plan": plan, "session": wanted}
            )
            named = log.session(told["session"])
        except NoAnswerError:
            raise
        except NotRunningError:
            named, settings = log.find(wanted or None), load_settings(home.settings)
            now_ms = named.last_ms
            bodies = naming(log, settings, named, class_group, plan, now_ms, Source.COMMAND_LINE)
            named = append_now(log, named, *bodies)
    click.echo(
        _(
            "The session of {day}, {hour} is one of {class_group} now.",
            day=day_words(named.opened_at.date()),
            hour=hour(named.opened_at),
            class_group=named.class_group,
        )
    )
