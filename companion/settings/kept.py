"""What is kept, where, until when, and what never leaves, in plain words."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _, later, many
from companion.lesson.day_words import date_words
from companion.log.copies import BACKUPS, SET_ASIDE, all_set_aside
from companion.log.copies import KEPT as MOST_BACKUPS
from companion.log.drafts import Drafts
from companion.log.newest_first import listed
from companion.log.store import open_log
from companion.paths import Home
from companion.settings.keeping import GRACE_DAYS, KeepingSection
from companion.settings.settings import Settings, load_settings

RULES_FIRST = later(
    "Your school's policy and the law of your place come before anything that stands here. Tell the school"
    " before the first lesson."
)
NEVER_LEAVES = later(
    "Nothing leaves this computer: no account, no cloud, no report to anybody, no look for a newer version."
    " The pages answer this computer alone. Only `companion models get` and the button “Fetch it” on a page"
    " fetch a speech model, when you ask for it; they send nothing of yours. `companion doctor` looks whether"
    " that holds on this computer."
)
NEVER_KEPT = later(
    "Never kept: the sound of a lesson, what was said besides the phrases, and children's names"
    " (initials or a seat number only, if you write nothing else)."
)


@dataclass(frozen=True, slots=True)
class Kept:
    """One thing that is kept."""

    what: str
    where: Path
    until: str


def kept_in(home: Home) -> Iterator[Kept]:
    """Yield everything that is kept in `home`, or could be."""
    settings = _settings(home)
    yield Kept(
        _(
            "The session log: {sessions}, with class group, times, marks, near misses, your "
            "reflection and your notes about single children",
            sessions=_sessions(home),
        ),
        home.log,
        _(
            "{until}; sooner with `companion forget` and `companion log purge`. Copies that "
            "you made with `export`, `log backup`, `log export`, `note --html`, `school --share` "
            "or `sheet` are yours to delete",
            until=_until(settings),
        ),
    )
    yield Kept(
        _("Backups of the session log, made after each school day and before each upgrade and forgetting"),
        home.log.parent / BACKUPS,
        _(
            "newer ones push older ones out, at {most}; what is forgotten goes from them, too",
            most=MOST_BACKUPS,
        ),
    )
    if all_set_aside(home.log):
        yield Kept(
            _("Session logs that were damaged, as they were found"),
            home.log.parent / SET_ASIDE,
            _("you delete them"),
        )
    if home.rescue.exists():
        yield Kept(
            _("What happened in lessons while the session log could not be written"),
            home.rescue,
            _("the log can be written: then it is taken up there, and goes"),
        )
    if home.school.exists():
        yield Kept(
            _("What was gathered of a school's rooms: sums of whole classes, nothing about single children"),
            home.school,
            _("you delete it; it is gathered anew from what the rooms have shared"),
        )
    yield Kept(
        _(
            "Features of your voice, and of marks that you dropped, if your settings let reviews be learnt "
            "from: numbers and no sound, but a skilled person could make a whisper of your cue of them"
        ),
        home.voice,
        _("you delete them with `companion rehearse --forget`"),
    )
    yield Kept(
        _("Words typed on a page and not saved yet"),
        Drafts(home.log).path,
        _("they are saved, or their session is forgotten"),
    )
    yield _clips(home, settings)
    yield Kept(_("Your settings: school, room, phrases, timetable"), home.settings, _("you delete them"))
    yield Kept(
        _("Pictures for routines and carry-overs, without children and without what the camera wrote"),
        home.pictures,
        _("you take them away, on the page of pictures or by companion pictures"),
    )
    yield Kept(
        _("The program's own log: what happened to the program, without names and without what was said"),
        home.run,
        _("newer lines push older ones out, at 2 MB"),
    )
    yield Kept(
        _("Speech models that you fetched: nothing of yours"), home.models, _("`companion models remove`")
    )


def _until(settings: Settings | None) -> str:
    keeping = (settings.keeping if settings else None) or KeepingSection()
    days = keeping.individual_notes_days
    if keeping.sessions == "always":
        return many(
            "individual notes for {count} day, whole sessions stay until you delete them",
            "individual notes for {count} days, whole sessions stay until you delete them",
            days,
        )
    return many(
        "individual notes for {count} day, whole sessions for {grace} days after their school year",
        "individual notes for {count} days, whole sessions for {grace} days after their school year",
        days,
        grace=GRACE_DAYS,
    )


def _clips(home: Home, settings: Settings | None) -> Kept:
    what = _("The sound of single phrases, in which children's voices may be")
    last_day = settings.listening.keep_clips_until if settings else None
    if last_day is None:
        until = _("the session is settled, in memory only: your settings keep none on disk")
    else:
        until = _("{day}, or until its session is purged", day=date_words(last_day))
    return Kept(what, home.clips, until)


def _sessions(home: Home) -> str:
    if not home.log.exists():
        return _("no session yet")
    try:
        with open_log(home.log) as log:
            found = listed(log)
    except CompanionError as error:
        return _("it can't be read now ({error})", error=error.what)
    if found.first_day is None:
        return _("no session yet")
    return many(
        "{count} session, the oldest of {day}",
        "{count} sessions, the oldest of {day}",
        found.sessions,
        day=date_words(found.first_day),
    )


def _settings(home: Home) -> Settings | None:
    try:
        return load_settings(home.settings)
    except CompanionError:
        return None
