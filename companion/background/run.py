"""The companion as one process for each user: started, asked, stopped."""

import logging
import logging.handlers
import signal
import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import partial
from types import FrameType

from filelock import FileLock, Timeout

from companion.background.control import ControlServer
from companion.background.house import CompanionHouse
from companion.background.lock import LOCK
from companion.background.mending import usable_settings
from companion.background.notices import Notices
from companion.background.requests import Requests
from companion.background.tray import TrayProcess
from companion.background.upkeep import Upkeep, look_at_log
from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.language import ENGLISH, _, speak
from companion.lesson.mark import Source
from companion.lesson.plan import Plan
from companion.lesson.session import Session
from companion.listening.engines import Voice, choose, hearable, open_spotter
from companion.listening.spotter import Spotter
from companion.listening.spotter_process import ProcessSpotter
from companion.live.clip_folder import ClipFolder
from companion.live.heard_sounds import HeardSounds
from companion.live.lesson_ear import ChooseEngine, EarParts, OpenSpotter
from companion.live.live import Live
from companion.live.pages_port import LivePort
from companion.live.reviewed_takes import ReviewedTakes
from companion.live.state import LiveState
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home, private_folder
from companion.pressing.gesture import Gesture
from companion.pressing.hotkeys import Hotkeys
from companion.settings.settings import Settings
from companion.settings.watch import SettingsWatch
from companion.sounding.tones import Tones

log = logging.getLogger(__name__)

LOG_BYTES, LOG_FILES = 500_000, 3
LEFT_WITHIN_S = 1.0
"""A companion that was killed while it started a child leaves the lock to that for a moment."""


def run(home: Home, *, mend: bool = False) -> None:
    """Be the companion of `home` in this process, until it is told to stop by a signal or a command.

    mend: while the settings can't be used, serve the pages on which they are mended.
    Raises CompanionError if one runs already, or if settings, log or disk can't be used.
    """
    watch = None if mend else SettingsWatch(home.settings)
    with _plain_errors(home), _alone(home), _log_file(home):
        stop = threading.Event()
        with _signals(stop):
            watch = watch or usable_settings(home, stop)
            if watch is not None:
                with _parts(home, watch, stop):
                    log.info("the companion runs")
                    while not stop.wait(1.0):
                        pass
        log.info("the companion has ended")


@contextmanager
def _parts(home: Home, watch: SettingsWatch, stop: threading.Event) -> Iterator[None]:
    """Put the parts together, and take them apart in the order in which nothing is lost."""
    settings = watch.settings
    log_news = look_at_log(home, ComputerClock().wall())
    tones = Tones(settings.tones.volume)
    kept_clips = ClipFolder(home.clips, settings.listening.keep_clips_until)
    live = Live(
        home.log,
        settings,
        ear=EarParts(_open_spotter(home), choose_engine=_choose_engine(home)),
        sounds=HeardSounds(kept_clips, ReviewedTakes(home.voice)),
        tones=tones,
        settings_watch=watch,
    )
    upkeep = Upkeep(home, live, log_news)

    def deliver(gesture: Gesture) -> None:
        command = live.settings.bindings.command_for(gesture)
        if command is not None:
            live.ask(command, Source.KEY, gesture.at_ms / 1000)

    hotkeys = Hotkeys(settings.bindings.wanted, deliver, timings=settings.gestures.timings())
    port = LivePort(live, lambda: hotkeys.obstacle, LogPort(home.log, live.clock.wall))

    def rebind(_: LiveState) -> None:
        hotkeys.rebind(live.settings.bindings.wanted, live.settings.gestures.timings())
        speak(live.settings.words.language or ENGLISH)

    with ExitStack() as parts:
        parts.callback(upkeep.stop)
        live.start()
        parts.callback(live.stop)
        hotkeys.start()
        parts.callback(hotkeys.close)
        parts.callback(live.subscribe(rebind))
        parts.callback(live.subscribe(Notices().follow))
        house = CompanionHouse(home, live.clock.wall, stop)
        pages = PageServer(home, port, live.clock.wall, house).start()
        parts.callback(pages.stop)
        control = ControlServer(home.control, Requests(live, hotkeys, pages, stop, home).answer)
        parts.callback(control.close)
        upkeep.start()
        tray = TrayProcess(home)
        tray.start()
        parts.callback(tray.close)
        yield


def engine_for(home: Home, engine: str, *, by_guest: bool) -> tuple[str, Voice]:
    """Return the engine that listens by the settings, and with which voice, where a guest teaches or not."""
    if not by_guest:
        return engine, Voice(features=home.voice, models=home.models)
    # No voice is learnt of a guest, and the teacher's would refuse every word of theirs.
    return "auto" if engine == "enrolled" else engine, Voice(models=home.models)


def _open_spotter(home: Home) -> OpenSpotter:
    def open_one(settings: Settings, session: Session) -> Spotter:
        engine, voice = engine_for(home, settings.listening.engine, by_guest=session.by_guest)
        heard = hearable(settings.vocabulary(session.plan), engine, voice)
        if heard.unheard:
            log.warning("%d phrases can't be heard; `companion doctor` names them", len(heard.unheard))
        return ProcessSpotter(partial(open_spotter, heard.vocabulary, engine, voice))

    return open_one


def _choose_engine(home: Home) -> ChooseEngine:
    voice = Voice(features=home.voice, models=home.models)

    def choose_one(settings: Settings, plan: Plan) -> str:
        engine = settings.listening.engine
        return choose(hearable(settings.vocabulary(plan), engine, voice).vocabulary, engine, voice)

    return choose_one


@contextmanager
def _plain_errors(home: Home) -> Iterator[None]:
    """Tell in a sentence what a disk does not let the companion do with its small files."""
    try:
        yield
    except OSError as error:
        raise CompanionError(
            _(
                "The disk does not let the companion run in {folder} ({reason}).",
                folder=home.folder,
                reason=error.strerror or error,
            ),
            safe=_("Everything recorded before is safe."),
            remedy=_("Free or unlock the disk, and start it again."),
        ) from error


@contextmanager
def _alone(home: Home) -> Iterator[None]:
    lock = FileLock(private_folder(home.run) / LOCK)
    try:
        lock.acquire(timeout=LEFT_WITHIN_S)
    except Timeout:
        raise CompanionError(
            _("The companion is running already."), remedy=_("See how it is: companion status")
        ) from None
    try:
        # The address of one that was killed: commands would go on asking whoever has its port now.
        home.control.unlink(missing_ok=True)
        with _only_ear(home):
            yield
    finally:
        lock.release()


@contextmanager
def _only_ear(home: Home) -> Iterator[None]:
    """Be the only companion in the room that listens, whoever teaches there.

    Raises CompanionError if that of another profile runs.
    """
    place = private_folder(home.first.run)
    lock, whose = FileLock(place / "ear"), place / "ear-of.txt"
    try:
        lock.acquire(timeout=LEFT_WITHIN_S)
    except Timeout:
        other = whose.read_text(encoding="utf-8") if whose.exists() else ""
        running = home.of_profile(other) if other else home.first
        raise CompanionError(
            _("The companion of {profile} is running, and only one may listen in a room.", profile=other)
            if other
            else _("The companion of the first profile is running, and only one may listen in a room."),
            remedy=_("End it first: {command}", command=f"{running.program} stop"),
        ) from None
    try:
        whose.write_text(home.profile, encoding="utf-8")
        yield
    finally:
        lock.release()


@contextmanager
def _log_file(home: Home) -> Iterator[None]:
    """Write the program's own log: what happened to it, never what was said or about whom."""
    path = home.run / "companion.log"
    handler = _LogFile(path, maxBytes=LOG_BYTES, backupCount=LOG_FILES)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(threadName)s: %(message)s"))
    path.chmod(0o600)
    root = logging.getLogger("companion")
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    try:
        yield
    finally:
        root.removeHandler(handler)
        with suppress(OSError):
            handler.close()


class _LogFile(logging.handlers.RotatingFileHandler):
    """A file that grows no further than is allowed."""

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802 - logging's own name
        """Leave out a line that a full disk does not take; what it means for a lesson is told there."""


@contextmanager
def _signals(stop: threading.Event) -> Iterator[None]:
    """Let the signals of a logout, a shutdown or a keyboard end the program in order."""

    def ask_to_stop(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    names = ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK")
    numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
    before = {number: signal.signal(number, ask_to_stop) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
