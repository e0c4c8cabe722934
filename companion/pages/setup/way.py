"""The addresses of the set-up: the overview, and each step."""

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import ENGLISH, LANGUAGES, _, spoken
from companion.pages.desk import Desk, desk_of, then
from companion.pages.setup.beginning import begin, begin_in
from companion.pages.setup.overview import summaries
from companion.pages.setup.page import find_step, mark_done, posted, save_step, show_step
from companion.pages.setup.parts import PARTS
from companion.pages.setup.steps import MORE, STEPS, WayIn, after
from companion.settings.chosen_language import chosen_language
from companion.settings.file import amend, put_language
from companion.settings.settings import problems_in, read_text


@dataclass(frozen=True, slots=True)
class Wrong:
    """Something that is wrong in the file, and the step on which it is mended."""

    key: str
    value: str
    words: str
    step: str


def overview(request: Request) -> Response:
    """Show all steps, what each has settled, and what of the file is wrong."""
    desk = desk_of(request)
    if not desk.home.settings.exists():
        return desk.page("setup/begin.html")
    text = read_text(desk.home.settings)
    try:
        wrong = [
            Wrong(one.key, one.value, one.words, _step_of(str(one.at[0])) if one.at else "mend")
            for one in problems_in(text)
        ]
    except CompanionError:
        return then("/setup/mend")
    return desk.page(
        "setup/overview.html",
        steps=[*STEPS, MORE],
        progress=WayIn.recall(desk.home),
        summaries=summaries(desk, text) if not wrong else {},
        wrong=wrong,
        path=desk.home.settings,
        told=request.query_params.get("saved", ""),
    )


def _step_of(table: str) -> str:
    """Return the step that is about a table of the file."""
    return next((key for key, part in PARTS.items() if table in part.holds), "mend")


async def go(request: Request) -> Response:
    """Begin, go on from what was read, or leave the way in for now or for good."""
    desk, said, _ = await posted(request)
    return await run_in_threadpool(_go, desk, said.get("do", ""), said.get("language", ""))


def _go(desk: Desk, do: str, language: str) -> Response:
    match do:
        case "begin":
            begin(desk.home, words=language if language in LANGUAGES else "")
            return then(f"/setup/{STEPS[0].key}")
        case "read":
            if spoken() != ENGLISH and not chosen_language(desk.home.settings).own:
                # The browser's own language was a guess, and was not contradicted.
                _choose(desk, spoken())
            return _on(desk, STEPS[0].key)
        case "leave":
            progress = WayIn.recall(desk.home)
            WayIn(progress.done, left=True, over=progress.over).keep(desk.home)
            return then("/")
        case "over":
            WayIn(frozenset(one.key for one in STEPS)).keep(desk.home)
            return then("/")
    match do.partition(":"):
        case "speak", _, code if code in LANGUAGES:
            _choose(desk, code)
        case "starter", _, code:
            begin_in(desk.home, code)
        case "later", _, key:
            return _on(desk, key)
        case _:
            raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))
    return then(f"/setup/{STEPS[0].key}")


def _choose(desk: Desk, code: str) -> None:
    """Let the program speak the language `code` from now on."""
    amend(desk.home.settings, lambda document: put_language(document, code))


def _on(desk: Desk, key: str) -> Response:
    """Go on from a step that saves nothing, or was put off."""
    mark_done(desk, key)
    following = after(key)
    return then(f"/setup/{following.key}" if following else "/setup")


def show(request: Request) -> Response:
    """Show one step."""
    desk, one = desk_of(request), find_step(request)
    if not desk.home.settings.exists():
        return then("/setup")
    return show_step(desk, PARTS[one.key], one, request.query_params.get("saved", ""))


async def save(request: Request) -> Response:
    """Save one step."""
    one = find_step(request)
    return await save_step(request, PARTS[one.key], one)
