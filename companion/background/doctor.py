"""Everything that can stop a lesson, looked at one after the other, each with its remedy."""

import itertools
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from companion import access
from companion.access import keep_to_user, others
from companion.background.control import NoAnswerError, NotRunningError, ask
from companion.background.outgoing import LOOKED_AT, OutgoingWatch
from companion.background.status import NO_TROUBLE
from companion.clock import Clock, ComputerClock
from companion.errors import CompanionError
from companion.language import _
from companion.lesson.counting import how_many
from companion.lesson.day_words import date_words
from companion.listening.engines import Voice, hearable, open_spotter
from companion.listening.microphone.capture import QUIET_DBFS, Microphone
from companion.listening.microphone.devices import choose, is_plugged, probe
from companion.listening.microphone.faint import AUDIBLE_DBFS
from companion.listening.microphone.files import blocks
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.trial import Trial, try_spotter
from companion.live.clip_folder import CAUTION
from companion.log.copies import BACKUPS
from companion.log.store import open_log
from companion.pages.house import Finding, Verdict
from companion.pages.lettering import undrawable
from companion.paths import Home
from companion.pressing.hotkeys import NO_SCREEN, Hotkeys, obstacle_of
from companion.samples.sample import bundled_sample
from companion.settings.settings import Settings, load_settings

PRIVATE = "Keep the folder on a disk of your own account: companion --home FOLDER init"
FREE_BYTES = 200_000_000
OPENING_S = 10.0
"""Longest time until the first sound of a microphone."""
LISTEN_S = 3.5
"""Sound that is listened to: enough for a muted, silent or overdriven microphone to be noticed."""
TRIAL_S = 10
"""Seconds of a sample session's sound, with talk and kitchen, that the engine is given."""
SLOW, TOO_SLOW = 0.5, 0.9
"""Seconds of processing a second of sound: from the first it is told, from the second it can't keep up."""
FAINT_DBFS = -65.0
LISTEN_ON_S = 12.0
"""Sound that is listened to where nothing audible comes: somebody may speak too quietly to be heard."""
MOST_LETTERS = 12
"""Letters that are named where no font draws them."""


def examine(home: Home, clock: Clock | None = None) -> Iterator[Finding]:
    """Yield a finding for each thing that a lesson needs, as soon as it is known."""
    clock = clock or ComputerClock()
    yield _access(home)
    yield from _guarded("disk", lambda: _disk(home))
    yield from _guarded("session log", lambda: _log(home, clock))
    try:
        settings = load_settings(home.settings)
    except CompanionError as error:
        yield Finding("settings", Verdict.BAD, error.what, error.remedy)
        return
    yield Finding(
        "settings",
        Verdict.GOOD,
        f"{how_many(len(settings.plans), 'plan')}, {how_many(len(settings.commands), 'phrase')}",
    )
    yield from _guarded("microphone", lambda: _microphone(settings))
    yield from _guarded("keys", lambda: _keys(settings))
    yield _screen()
    yield from _guarded("timetable", lambda: _timetable(settings, clock))
    yield _lettering(settings)
    yield _clips(settings)
    yield _companion(home)
    yield from _guarded("phrases", lambda: _phrases(home, settings))
    with OutgoingWatch() as watch:
        yield from _guarded("engine", lambda: _engine(home, settings))
    yield _outgoing(watch)


def can_be_held(findings: list[Finding]) -> bool:
    """Whether a lesson can be held."""
    return not any(finding.verdict is Verdict.BAD for finding in findings)


def _guarded(about: str, check: Callable[[], Finding]) -> Iterator[Finding]:
    try:
        yield check()
    except CompanionError as error:
        yield Finding(about, Verdict.BAD, error.what, error.remedy)


def _access(home: Home) -> Finding:
    """Look who else could read the log, its copies, what was learnt and what lets in to the pages."""
    places = (home.folder, home.log, home.log.parent / BACKUPS, home.clips, home.voice, home.run)
    try:
        # A folder that others can't enter closes what is in it, on a file system with modes.
        looked_at = places if access.ACCESS_LISTS else places[:1]
        open_to = {place: others(place) for place in looked_at if others(place)}
        for place in open_to:
            keep_to_user(place)
        still = [place for place in open_to if others(place)]
    except OSError as error:
        return Finding(
            "access", Verdict.WARNING, f"the system does not say who can read it ({error})", PRIVATE
        )
    if still:
        words = f"others can read {still[0]}, and this disk does not let that be changed"
        return Finding("access", Verdict.BAD, words, PRIVATE)
    if open_to:
        words = f"others could read {', '.join(map(str, open_to))} until now; it is closed to them again"
        return Finding("access", Verdict.WARNING, words, "Look who else uses this computer.")
    return Finding("access", Verdict.GOOD, "nobody else on this computer can read what is kept")


def _disk(home: Home) -> Finding:
    folder = home.create().folder
    free = shutil.disk_usage(folder).free
    words = f"{free / 1e9:.1f} GB free in {folder}"
    if free < FREE_BYTES:
        return Finding("disk", Verdict.BAD, words, "Free some space: a full disk takes no marks.")
    return Finding("disk", Verdict.GOOD, words)


def _log(home: Home, clock: Clock) -> Finding:
    with open_log(home.log) as log:
        newest = log.summaries(most=1)
    if newest and newest[0].opened_at > clock.wall():
        return Finding(
            "clock",
            Verdict.WARNING,
            f"The computer's clock ({clock.wall():%d %B %Y, %H:%M}) is behind the newest session.",
            "Set date, time and zone of the computer; sessions open by it.",
        )
    now = f"{clock.wall():%A %d %B %Y, %H:%M %Z}"
    return Finding("clock and log", Verdict.GOOD, f"{now}; the log can be written")


def _microphone(settings: Settings) -> Finding:
    if not settings.commands:
        return Finding("microphone", Verdict.GOOD, "not needed: the settings have no phrases")
    name = settings.listening.microphone or None
    device = choose(probe(), name)
    if device is None or not is_plugged(device):
        words = f"there is none called '{name}'" if name else "there is none"
        return Finding("microphone", Verdict.BAD, words, "Plug it in, and look at: companion devices")
    microphone = Microphone(name, lambda *_: None)
    loudest_dbfs, heard_s, end_s = QUIET_DBFS, 0.0, time.monotonic() + OPENING_S + LISTEN_ON_S
    try:
        while time.monotonic() < end_s and not _is_known(microphone.trouble, heard_s, loudest_dbfs):
            while not microphone.blocks.empty():
                heard_s += len(microphone.blocks.get_nowait().sound) / SAMPLE_RATE
            loudest_dbfs = max(loudest_dbfs, microphone.level_dbfs)
            time.sleep(0.05)
        trouble = microphone.trouble
    finally:
        microphone.close()
    if trouble is not None:
        return Finding("microphone", Verdict.BAD, f"{device.name}: {trouble.words}", trouble.remedy)
    words = f"{device.name}, loudest {loudest_dbfs:.0f} dBFS"
    if loudest_dbfs < FAINT_DBFS:
        return Finding(
            "microphone", Verdict.WARNING, words, "Very faint; speak and look at: companion devices"
        )
    return Finding("microphone", Verdict.GOOD, words)


def _is_known(trouble: Trouble | None, heard_s: float, loudest_dbfs: float) -> bool:
    """Whether listening on would tell no more of a microphone."""
    if heard_s < LISTEN_S:
        return False
    if trouble is None:
        return loudest_dbfs >= AUDIBLE_DBFS or heard_s >= LISTEN_ON_S
    # A computer that is busy delivers late; that is given time to pass, a wrong switch or level is not.
    return trouble in (Trouble.MUTED, Trouble.FAINT)


def _phrases(home: Home, settings: Settings) -> Finding:
    """Look for phrases of any plan that can't be heard."""
    if not settings.commands:
        return Finding("phrases", Verdict.GOOD, "none")
    voice = Voice(features=home.voice, models=home.models)
    vocabularies = [settings.vocabulary(section.plan()) for section in settings.plans]
    unheard = {
        phrase: why
        for vocabulary in vocabularies
        for phrase, why in hearable(vocabulary, settings.listening.engine, voice).unheard.items()
    }
    if unheard:
        words = "; ".join(f"“{phrase}” is never heard: {why.rstrip('.')}" for phrase, why in unheard.items())
        return Finding("phrases", Verdict.WARNING, words, "Say it in other words, or press a key for it.")
    return Finding("phrases", Verdict.GOOD, "all can be heard")


def _engine(home: Home, settings: Settings) -> Finding:
    if not settings.commands:
        return Finding("engine", Verdict.GOOD, "not needed: the settings have no phrases")
    listening = settings.listening
    voice = Voice(features=home.voice, models=home.models)
    heard = hearable(settings.vocabulary(settings.plan()), listening.engine, voice)
    new_spotter = partial(open_spotter, heard.vocabulary, listening.engine, voice)
    trial = try_spotter(new_spotter, _speech())
    words = (
        f"{trial.engine}, ready in {trial.open_s:.1f} s, {trial.speed:.2f} of a core while somebody speaks, "
        f"{trial.resident_mb:.0f} MB"
    )
    return _engine_finding(trial, words)


def _engine_finding(trial: Trial, words: str) -> Finding:
    if trial.speed >= TOO_SLOW:
        remedy = "Close other programs and plug the charger in, or choose another engine."
        return Finding("engine", Verdict.BAD, f"{words}: too slow", remedy)
    if trial.speed >= SLOW:
        return Finding("engine", Verdict.WARNING, words, "Slow: marks come late. Close other programs.")
    return Finding("engine", Verdict.GOOD, words)


def _outgoing(watch: OutgoingWatch) -> Finding:
    if watch.reached:
        words = f"this computer was left, to {', '.join(sorted(watch.reached))}"
        remedy = "Stop the companion, turn the network off, and report these addresses to its makers."
        return Finding("what leaves", Verdict.BAD, words, remedy)
    words = f"nothing, in {how_many(watch.looks, 'look')} at the {LOOKED_AT} meanwhile"
    return Finding("what leaves", Verdict.GOOD, words)


def _speech() -> Sound:
    sound = bundled_sample("calm-garden").sound
    enough = itertools.takewhile(lambda pair: pair[0] < TRIAL_S * 10, enumerate(blocks(sound, block_ms=100)))
    return np.concatenate([block for _, block in enough])


def _keys(settings: Settings) -> Finding:
    if not settings.keys:
        return Finding("keys", Verdict.WARNING, "no key is bound", "Bind some with: companion keys")
    hotkeys = Hotkeys(settings.bindings.wanted, lambda _: None)
    hotkeys.start()
    obstacle = hotkeys.obstacle
    hotkeys.close()
    if obstacle is not None:
        return Finding("keys", Verdict.WARNING, obstacle.reason, obstacle.remedy)
    return Finding("keys", Verdict.GOOD, f"{how_many(len(settings.keys), 'gesture')} bound, heard everywhere")


def _screen() -> Finding:
    if obstacle_of(os.environ, sys.platform) == NO_SCREEN:
        remedy = "Start the companion inside the desktop session; voice works meanwhile."
        return Finding("screen", Verdict.WARNING, "there is none", remedy)
    return Finding("screen", Verdict.GOOD, "there is one")


def _timetable(settings: Settings, clock: Clock) -> Finding:
    if settings.timetable is None:
        return Finding("timetable", Verdict.GOOD, "none: sessions open by hand")
    timetable = settings.timetable.timetable()
    lessons = timetable.lessons_on(clock.wall().astimezone(timetable.zone).date())
    if not lessons:
        return Finding(
            "timetable", Verdict.WARNING, "no lesson today", "See the days with: companion timetable"
        )
    today = ", ".join(f"{lesson.begins:%H:%M} {lesson.class_group}" for lesson in lessons)
    return Finding("timetable", Verdict.GOOD, f"today {today}")


def _lettering(settings: Settings) -> Finding:
    lessons = settings.timetable.lessons if settings.timetable else ()
    phases = (phase for plan in settings.plans for phase in plan.phases)
    names = [lesson.class_group for lesson in lessons] + [level.name for level in settings.levels]
    missing = undrawable([*names, *(name for phase in phases for name in (phase.name, *phase.routines))])
    if not missing:
        return Finding("lettering", Verdict.GOOD, "all names can be drawn on the pages")
    return Finding(
        "lettering",
        Verdict.WARNING,
        f"no font draws {' '.join(missing[:MOST_LETTERS])}: a page shows empty boxes in their place",
        "Install a font with these letters; for Chinese, Japanese and Korean on Debian and Ubuntu: "
        "sudo apt-get install fonts-noto-cjk",
    )


def _clips(settings: Settings) -> Finding:
    until = settings.listening.keep_clips_until
    if until is None:
        return Finding("sound on disk", Verdict.GOOD, "none is ever written")
    return Finding("sound on disk", Verdict.WARNING, _(CAUTION, until=date_words(until)))


def _companion(home: Home) -> Finding:
    try:
        trouble = str(ask(home.control, {"do": "status"}).get("trouble", NO_TROUBLE))
    except NoAnswerError as error:
        return Finding("companion", Verdict.BAD, error.what, error.remedy)
    except NotRunningError:
        return Finding("companion", Verdict.WARNING, "it does not run", "Start it with: companion start")
    except CompanionError as error:
        return Finding("companion", Verdict.BAD, error.what, error.remedy)
    if trouble != NO_TROUBLE:
        return Finding("companion", Verdict.WARNING, f"it runs, and says: {trouble}")
    return Finding("companion", Verdict.GOOD, "it runs")
