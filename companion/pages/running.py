"""The companion itself: whether it runs, its copies, what is forgotten for good, its speech models."""

import shutil
from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _, many
from companion.lesson.command import Action, Command
from companion.listening.voice.files import forget, is_learnt
from companion.log.copies import back_up, backups, newest_good, salvaged, waiting
from companion.log.salvage import salvage
from companion.log.store import open_log
from companion.models.manifest import known_models
from companion.models.places import find_models
from companion.pages import speech_models
from companion.pages.desk import Desk, desk_of, text, wish_of
from companion.pages.exercises.fetched_model import STEP
from companion.pages.exercises.streams import stamp_of
from companion.pages.home import newest_event
from companion.pages.stream import streamed
from companion.settings.kept import kept_in

SHOWN_BACKUPS = 5


def show(request: Request) -> Response:
    """Show how the companion is, and what can be done with it."""
    return _page(desk_of(request))


def _page(desk: Desk, told: str = "", *, asks_to_end: bool = False) -> Response:
    with desk.log() as log:
        running = next((one for one in log.summaries(most=5) if not one.closed), None)
        with log.reading() as db:
            stamp = _stamp(desk, newest_event(db.conn))
    session = running.session if running else ""
    clips = sorted(desk.home.clips.rglob("*.flac")) if desk.home.clips.is_dir() else []
    return desk.page(
        "running.html",
        told=told,
        asks_to_end=asks_to_end,
        runs=desk.house.runs,
        lesson=running,
        status=desk.port.status(session),
        with_login=desk.house.starts_with_login(),
        backups=backups(desk.home.log)[:SHOWN_BACKUPS],
        set_aside=waiting(desk.home.log),
        kept=list(kept_in(desk.home)),
        voice=is_learnt(desk.home.voice),
        clips=len(clips),
        models=known_models(),
        installed={one.name: one for one in find_models(desk.home.models)},
        fetched=speech_models.fetched(desk),
        stamp=stamp,
        stream="/running/stream",
    )


def stream(request: Request) -> Response:
    """Tell the page when a lesson or the microphone has changed, and how far a speech model has come."""
    desk = desk_of(request)
    return streamed(desk, newest_event, lambda event: _stamp(desk, event))


def _stamp(desk: Desk, event: str) -> str:
    troubles = hash(desk.port.status("").troubles) & 0xFFFFFFFF
    return f"{event}-{troubles:x}-{stamp_of(desk, STEP)}"


async def step(request: Request) -> Response:
    """Do what a button asks for."""
    desk, form = desk_of(request), await request.form()
    return await run_in_threadpool(_step, desk, form)


async def bring_model(request: Request) -> Response:
    """Take up a speech model that came in a file."""
    desk = desk_of(request)
    async with request.form() as form:
        wish_of(form)
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise CompanionError(_("This page is out of date."), remedy=_("Load it again."))
        told = await run_in_threadpool(speech_models.bring, desk, file)
        return await run_in_threadpool(_page, desk, told)


def _step(desk: Desk, form: FormData) -> Response:
    wish = wish_of(form)
    do = text(form, "do")
    if do == "start":
        # No redirect: the forms of a page lead to no other address than its own; the companion has another.
        address = desk.house.start()
        answer = _page(desk, _("The companion runs now. Its own pages open here."))
        answer.headers["Refresh"] = f"0; url={address}"
        return answer
    acts: dict[str, Callable[[], str]] = {
        "end": lambda: _end(desk, sure=text(form, "sure") == "yes"),
        "pause": lambda: _say_to_lesson(desk, Action.PAUSE, wish),
        "resume": lambda: _say_to_lesson(desk, Action.RESUME, wish),
        "login-on": lambda: _login(desk, on=True),
        "login-off": lambda: _login(desk, on=False),
        "back-up": lambda: _back_up(desk),
        "take-up": lambda: _take_up(desk),
        "forget-due": desk.house.forget_due,
        "forget-child": lambda: desk.house.forget_child(text(form, "child")),
        "forget-voice": lambda: _forget_voice(desk),
        "forget-clips": lambda: _forget_clips(desk),
        "fetch": lambda: speech_models.fetch(desk, text(form, "model")),
        "remove": lambda: speech_models.remove(desk, text(form, "model")),
    }
    if do not in acts:
        raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))
    told = acts[do]()
    desk.drafts.forget(text(form, "draft"))
    return _page(desk, told, asks_to_end=do == "end" and not text(form, "sure"))


def _end(desk: Desk, *, sure: bool) -> str:
    if not sure:
        return _("Really end it? Marks are made by nothing then.")
    desk.house.end()
    return _("The companion ends now. This page shows how it was; start it again with: companion")


def _say_to_lesson(desk: Desk, action: Action, wish: str) -> str:
    with desk.log() as log:
        running = next((one for one in log.summaries(most=5) if not one.closed), None)
    if running is None:
        raise CompanionError(_("No lesson is open."), safe=_("The microphone is closed."))
    desk.port.submit(running.session, Command(action), request=wish)
    return _("Listening is paused.") if action is Action.PAUSE else _("It listens again.")


def _login(desk: Desk, *, on: bool) -> str:
    desk.house.start_with_login(on=on)
    return (
        _("The companion starts with your next log-in.") if on else _("It starts with your log-in no longer.")
    )


def _back_up(desk: Desk) -> str:
    made = back_up(desk.home.log, "hand", desk.clock())
    return _("A backup is made and checked: {file}", file=made.path)


def _take_up(desk: Desk) -> str:
    """Take what the newest sound backup and the damaged logs have, and the log has not, into the log."""
    damaged, good = waiting(desk.home.log), newest_good(desk.home.log)
    if not damaged:
        raise CompanionError(_("No damaged log is set aside."), safe=_("Nothing was changed."))
    with open_log(desk.home.log) as log:
        saved = [salvage(path, log) for path in ([good.path] if good else []) + damaged]
    for path in damaged:
        salvaged(path)
    taken = sum(one.new + one.longer for one in saved)
    lost = sum(one.lost for one in saved)
    told = many(
        "{count} session taken up, the others were there already.",
        "{count} sessions taken up, the others were there already.",
        taken,
    )
    if not lost:
        return told
    missing = many(
        "{count} event known to have been there could not be read.",
        "{count} events known to have been there could not be read.",
        lost,
    )
    return f"{told} {missing}"


def _forget_voice(desk: Desk) -> str:
    there = forget(desk.home.voice)
    return _("What was learnt of your voice is deleted.") if there else _("Nothing was kept of your voice.")


def _forget_clips(desk: Desk) -> str:
    try:
        shutil.rmtree(desk.home.clips)
    except FileNotFoundError:
        return _("No sound was kept.")
    except OSError as error:
        raise CompanionError(
            _("Not all sound could be removed ({strerror}).", strerror=error.strerror),
            remedy=_("End the companion and repeat."),
        ) from error
    return _("All sound of phrases is deleted.")
