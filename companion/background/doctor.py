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
from companion.background.control import NO_TROUBLE, NoAnswerError, NotRunningError, ask
from companion.background.outgoing import LOOKED_AT, OutgoingWatch
from companion.background.upkeep import damage_now
from companion.clock import Clock, ComputerClock
from companion.errors import CompanionError
from companion.language import _, decimal, language, later, many
from companion.lesson.day_words import date_words, hour, year_day
from companion.listening.engines import Voice, hearable, open_spotter
from companion.listening.microphone.capture import QUIET_DBFS, Microphone
from companion.listening.microphone.devices import choose, is_plugged, probe
from companion.listening.microphone.faint import AUDIBLE_DBFS
from companion.listening.microphone.files import blocks
from companion.listening.microphone.trouble import Trouble
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.trial import Trial, try_spotter
from companion.listening.voice.drift import voice_now
from companion.live.clip_folder import CAUTION
from companion.log.copies import BACKUPS
from companion.log.store import open_log
from companion.pages.house import Finding, Verdict
from companion.pages.lettering import undrawable
from companion.paths import Home
from companion.pressing.hotkeys import NO_SCREEN, Hotkeys, obstacle_of
from companion.samples.sample import bundled_sample
from companion.settings.settings import Settings, load_settings

PRIVATE = later("Keep the folder on a disk of your own account: companion --home FOLDER init")
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
    yield from _guarded(later("disk"), lambda: _disk(home))
    (log,) = _guarded(later("session log"), lambda: _log(home, clock))
    yield log
    if log.verdict is not Verdict.BAD and (damage := damage_now(home)):
        yield Finding(later("session log"), Verdict.WARNING, *damage)
    try:
        settings = load_settings(home.settings)
    except CompanionError as error:
        yield Finding(later("settings"), Verdict.BAD, error.what, error.remedy)
        return
    plans = many("{count} plan", "{count} plans", len(settings.plans))
    phrases = many("{count} phrase", "{count} phrases", len(settings.commands))
    yield Finding(
        later("settings"),
        Verdict.GOOD,
        f"{plans}, {phrases}",
    )
    yield from _guarded(later("microphone"), lambda: _microphone(settings))
    yield from _guarded(later("keys"), lambda: _keys(settings))
    yield _screen()
    yield from _guarded(later("timetable"), lambda: _timetable(settings, clock))
    yield _lettering(settings)
    yield _clips(settings)
    yield _companion(home)
    yield from _guarded(later("phrases"), lambda: _phrases(home, settings))
    yield from _guarded(later("voice"), lambda: _voice(home))
    with OutgoingWatch() as watch:
        yield from _guarded(later("engine"), lambda: _engine(home, settings))
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
            later("access"),
            Verdict.WARNING,
            _("the system does not say who can read it ({error})", error=error),
            _(PRIVATE),
        )
    if still:
        words = _("others can read {place}, and this disk does not let that be changed", place=still[0])
        return Finding(later("access"), Verdict.BAD, words, _(PRIVATE))
    if open_to:
        words = _(
            "others could read {places} until now; it is closed to them again",
            places=", ".join(map(str, open_to)),
        )
        return Finding(later("access"), Verdict.WARNING, words, _("Look who else uses this computer."))
    return Finding(later("access"), Verdict.GOOD, _("nobody else on this computer can read what is kept"))


def _disk(home: Home) -> Finding:
    folder = home.create().folder
    free = shutil.disk_usage(folder).free
    words = _("{free} GB free in {folder}", free=decimal(free / 1e9, 1), folder=folder)
    if free < FREE_BYTES:
        return Finding(later("disk"), Verdict.BAD, words, _("Free some space: a full disk takes no marks."))
    return Finding(later("disk"), Verdict.GOOD, words)


def _log(home: Home, clock: Clock) -> Finding:
    with open_log(home.log) as log:
        newest = log.summaries(most=1)
        with log.writing():
            # That it may be written is all that is asked.
            pass
    if newest and newest[0].opened_at > clock.wall():
        return Finding(
            later("clock"),
            Verdict.WARNING,
            _(
                "The computer's clock ({day}, {hour}) is behind the newest session.",
                day=date_words(clock.wall()),
                hour=hour(clock.wall()),
            ),
            _("Set date, time and zone of the computer; sessions open by it."),
        )
    now = f"{year_day(clock.wall())}, {clock.wall():%H:%M %Z}"
    return Finding(later("clock and log"), Verdict.GOOD, _("{now}; the log can be written", now=now))


def _microphone(settings: Settings) -> Finding:
    if not settings.commands:
        return Finding(later("microphone"), Verdict.GOOD, _("not needed: the settings have no phrases"))
    name = settings.listening.microphone or None
    device = choose(probe(), name)
    if device is None or not is_plugged(device):
        words = _("there is none called '{name}'", name=name) if name else _("there is none")
        return Finding(
            later("microphone"), Verdict.BAD, words, _("Plug it in, and look at: companion devices")
        )
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
        return Finding(later("microphone"), Verdict.BAD, f"{device.name}: {trouble.words}", trouble.remedy)
    words = _("{name}, loudest {level} dBFS", name=device.name, level=round(loudest_dbfs))
    if loudest_dbfs < FAINT_DBFS:
        return Finding(
            later("microphone"), Verdict.WARNING, words, _("Very faint; speak and look at: companion devices")
        )
    return Finding(later("microphone"), Verdict.GOOD, words)


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
        return Finding(later("phrases"), Verdict.GOOD, _("none"))
    voice = Voice(features=home.voice, models=home.models)
    vocabularies = [settings.vocabulary(section.plan()) for section in settings.plans]
    unheard = {
        phrase: why
        for vocabulary in vocabularies
        for phrase, why in hearable(vocabulary, settings.listening.engine, voice).unheard.items()
    }
    if unheard:
        words = "; ".join(
            _("“{phrase}” is never heard: {why}", phrase=phrase, why=why.rstrip("."))
            for phrase, why in unheard.items()
        )
        return Finding(
            later("phrases"), Verdict.WARNING, words, _("Say it in other words, or press a key for it.")
        )
    return Finding(later("phrases"), Verdict.GOOD, _("all can be heard"))


def _voice(home: Home) -> Finding:
    with open_log(home.log) as log:
        now = voice_now(log, home.voice)
    return Finding(later("voice"), Verdict.WARNING if now.remedy else Verdict.GOOD, now.words, now.remedy)


def _engine(home: Home, settings: Settings) -> Finding:
    if not settings.commands:
        return Finding(later("engine"), Verdict.GOOD, _("not needed: the settings have no phrases"))
    listening = settings.listening
    voice = Voice(features=home.voice, models=home.models)
    heard = hearable(settings.vocabulary(settings.plan()), listening.engine, voice)
    new_spotter = partial(open_spotter, heard.vocabulary, listening.engine, voice)
    trial = try_spotter(new_spotter, _speech())
    words = _(
        "{engine}, ready in {open_s} s, {speed} of a core while somebody speaks, {memory} MB",
        engine=trial.engine,
        open_s=decimal(trial.open_s, 1),
        speed=decimal(trial.speed, 2),
        memory=round(trial.resident_mb),
    )
    return _engine_finding(trial, words)


def _engine_finding(trial: Trial, words: str) -> Finding:
    if trial.speed >= TOO_SLOW:
        remedy = _("Close other programs and plug the charger in, or choose another engine.")
        return Finding(later("engine"), Verdict.BAD, _("{words}: too slow", words=words), remedy)
    if trial.speed >= SLOW:
        return Finding(
            later("engine"), Verdict.WARNING, words, _("Slow: marks come late. Close other programs.")
        )
    return Finding(later("engine"), Verdict.GOOD, words)


def _outgoing(watch: OutgoingWatch) -> Finding:
    if watch.reached:
        words = _("this computer was left, to {places}", places=", ".join(sorted(watch.reached)))
        remedy = _("Stop the companion, turn the network off, and report these addresses to its makers.")
        return Finding(later("what leaves"), Verdict.BAD, words, remedy)
    words = many(
        "nothing, in {count} look at the {looked_at} meanwhile",
        "nothing, in {count} looks at the {looked_at} meanwhile",
        watch.looks,
        looked_at=_(LOOKED_AT),
    )
    return Finding(later("what leaves"), Verdict.GOOD, words)


def _speech() -> Sound:
    sound = bundled_sample("calm-garden").sound
    enough = itertools.takewhile(lambda pair: pair[0] < TRIAL_S * 10, enumerate(blocks(sound, block_ms=100)))
    return np.concatenate([block for _, block in enough])


def _keys(settings: Settings) -> Finding:
    if not settings.keys:
        return Finding(
            later("keys"), Verdict.WARNING, _("no key is bound"), _("Bind some with: companion keys")
        )
    hotkeys = Hotkeys(settings.bindings.wanted, lambda _: None)
    hotkeys.start()
    obstacle = hotkeys.obstacle
    hotkeys.close()
    if obstacle is not None:
        return Finding(later("keys"), Verdict.WARNING, obstacle.reason, obstacle.remedy)
    return Finding(
        later("keys"),
        Verdict.GOOD,
        many(
            "{count} gesture bound, heard everywhere",
            "{count} gestures bound, heard everywhere",
            len(settings.keys),
        ),
    )


def _screen() -> Finding:
    if obstacle_of(os.environ, sys.platform) == NO_SCREEN:
        remedy = _("Start the companion inside the desktop session; voice and page need no keys.")
        return Finding(later("screen"), Verdict.WARNING, _("there is none"), remedy)
    return Finding(later("screen"), Verdict.GOOD, _("there is one"))


def _timetable(settings: Settings, clock: Clock) -> Finding:
    if settings.timetable is None:
        return Finding(later("timetable"), Verdict.GOOD, _("none: sessions open by hand"))
    timetable = settings.timetable.timetable()
    lessons = timetable.lessons_on(clock.wall().astimezone(timetable.zone).date())
    if not lessons:
        return Finding(
            later("timetable"),
            Verdict.WARNING,
            _("no lesson today"),
            _("See the days with: companion timetable"),
        )
    today = ", ".join(f"{lesson.begins:%H:%M} {lesson.class_group}" for lesson in lessons)
    return Finding(later("timetable"), Verdict.GOOD, _("today {lessons}", lessons=today))


def _lettering(settings: Settings) -> Finding:
    lessons = settings.timetable.lessons if settings.timetable else ()
    phases = (phase for plan in settings.plans for phase in plan.phases)
    # With the program's own words: in a language of other letters whole pages would be boxes.
    names = [language().name, *(lesson.class_group for lesson in lessons)]
    names += [level.name for level in settings.levels]
    missing = undrawable([*names, *(name for phase in phases for name in (phase.name, *phase.routines))])
    if not missing:
        return Finding(later("lettering"), Verdict.GOOD, _("all names can be drawn on the pages"))
    return Finding(
        later("lettering"),
        Verdict.WARNING,
        _(
            "no font draws {letters}: a page shows empty boxes in their place",
            letters=" ".join(missing[:MOST_LETTERS]),
        ),
        _(
            "Install a font with these letters; for Chinese, Japanese and Korean on Debian and "
            "Ubuntu: sudo apt-get install fonts-noto-cjk"
        ),
    )


def _clips(settings: Settings) -> Finding:
    until = settings.listening.keep_clips_until
    if until is None:
        return Finding(later("sound on disk"), Verdict.GOOD, _("none is ever written"))
    return Finding(later("sound on disk"), Verdict.WARNING, _(CAUTION, until=date_words(until)))


def _companion(home: Home) -> Finding:
    try:
        trouble = str(ask(home.control, {"do": "status"}).get("trouble", NO_TROUBLE))
    except NoAnswerError as error:
        return Finding(later("companion"), Verdict.BAD, error.what, error.remedy)
    except NotRunningError:
        return Finding(
            later("companion"), Verdict.WARNING, _("it does not run"), _("Start it with: companion start")
        )
    except CompanionError as error:
        return Finding(later("companion"), Verdict.BAD, error.what, error.remedy)
    if trouble != NO_TROUBLE:
        return Finding(
            later("companion"), Verdict.WARNING, _("it runs, and says: {trouble}", trouble=trouble)
        )
    return Finding(later("companion"), Verdict.GOOD, _("it runs"))
