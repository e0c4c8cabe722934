"""Shows and saves the steps of the set-up, each a form over its part of the settings file."""

import hashlib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlencode

import tomlkit
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.pages.desk import Desk, desk_of, then, wish_of
from companion.pages.exercises.streams import stamp_of
from companion.pages.setup.changes import add_row, drop_row, fill_in, move_row
from companion.pages.setup.class_words import SURE, doubts
from companion.pages.setup.filled import Filled
from companion.pages.setup.form import fields_in
from companion.pages.setup.steps import STEPS, Step, WayIn, after, before, step
from companion.pages.setup.taken_out import FORM as TAKEN_OUT
from companion.pages.setup.taken_out import TakenOut, label_of, moved_down, remember, remembered
from companion.settings.file import NotValidError, amend, parse_document, rewrite
from companion.settings.problem import Problem
from companion.settings.settings import problems_in, read_text

Values = Mapping[str, Any]
Said = Mapping[str, str]
Act = Callable[[Desk, Values, Said, str], None]
"""Does what a button asks for, with its place, and saves nothing."""


def _just_fill(document: tomlkit.TOMLDocument, said: Said) -> str:
    fill_in(document, said)
    return ""


def _no_more(desk: Desk, values: Values, said: Said) -> dict[str, Any]:  # noqa: ARG001 - a page's own may
    return {}


def only_look(desk: Desk, values: Values, said: Said, place: str) -> None:
    """Show the page anew with what was typed."""


def _no_own(desk: Desk, values: Values) -> dict[str, str]:  # noqa: ARG001 - a page's own may
    return {}


def rows_only(document: tomlkit.TOMLDocument, do: str, place: str, said: Said) -> str:  # noqa: ARG001
    """Add, take out or move a row, where a button asks for it."""
    match do:
        case "add":
            add_row(document, place)
        case "drop":
            drop_row(document, place)
        case "up":
            move_row(document, place)
    return ""


@dataclass(frozen=True, slots=True)
class StepPart:
    """What one step does with the file; most only fill its fields in."""

    holds: tuple[str, ...] = ()
    """Tables of the file that it is about."""
    saves: bool = True
    """Whether it writes anything into the file."""
    own: Callable[[Desk, Values], dict[str, str]] = _no_own
    """The fields that are written otherwise than they stand in the file, by their names."""
    fill: Callable[[tomlkit.TOMLDocument, Said], str] = _just_fill
    """Writes what was said into the file; returns what else that has changed, in words."""
    rearrange: Callable[[tomlkit.TOMLDocument, str, str, Said], str] = rows_only
    """Does what a button asks for beside saving, `do` with its place; returns what else that has changed."""
    takes_out: Mapping[str, str] = field(default_factory=dict)
    """What buttons take out beside single rows, by their `do`: what it is called, until it is put back."""
    acts: Mapping[str, Act] = field(default_factory=lambda: {"look": only_look})
    """What buttons ask for that saves nothing, by their `do`."""
    more: Callable[[Desk, Values, Said], dict[str, Any]] = _no_more
    """What the template needs beside the fields; the last is what was typed, empty where nothing was sent."""


def show_step(desk: Desk, part: StepPart, one: Step, told: str = "") -> Response:
    """Show one step as the file has it."""
    try:
        return _page(desk, part, one, told=told)
    except tomlkit.exceptions.ParseError:
        return then("/setup/mend")


async def posted(request: Request) -> tuple[Desk, dict[str, str], FormData]:
    """Return the desk and what a form says."""
    form = await request.form(max_fields=20_000)
    said = {name: value for name, value in form.items() if isinstance(value, str)}
    return desk_of(request), said, form


async def save_step(request: Request, part: StepPart, one: Step) -> Response:
    """Save what one step says, and do what its button asks for."""
    desk, said, form = await posted(request)
    wish_of(form)
    return await run_in_threadpool(_save, desk, part, one, said)


def _save(desk: Desk, part: StepPart, one: Step, said: Said) -> Response:
    do, _colon, place = said.get("do", "").partition(":")
    if (act := part.acts.get(do)) is not None:
        act(desk, tomlkit.parse(read_text(desk.home.settings)).unwrap(), said, place)
        return _page(desk, part, one, said=said)
    text = read_text(desk.home.settings)
    _refuse_another(said, text)
    values = parse_document(text, str(desk.home.settings)).unwrap()
    doubtful, sure = doubts(said, _standing(desk, part, values))
    if doubtful:
        return _page(desk, part, one, http_status=409, said={**said, SURE: sure}, problems=doubtful)
    told: list[str] = []
    before: list[str] = []

    def change(document: tomlkit.TOMLDocument) -> None:
        _refuse_another(said, tomlkit.dumps(document))
        told.append(part.fill(document, said))
        before.append(tomlkit.dumps(document))
        try:
            told.append(part.rearrange(document, do, place, said))
        except (IndexError, KeyError, ValueError) as error:
            raise CompanionError(_("This page has no such row."), remedy=_("Load it again.")) from error

    try:
        if do == "put-back":
            _put_back(desk, part, said)
        else:
            amend(desk.home.settings, change)
    except NotValidError as error:
        return _page(desk, part, one, http_status=409, said=said, problems=error.problems)
    desk.drafts.forget(f"day/setup-{one.key}", TAKEN_OUT)
    if do == "drop" or do in part.takes_out:
        label = part.takes_out.get(do) or label_of(before[0], place)
        out = TakenOut(place if do == "drop" else "", label, one.key, before[0])
        remember(desk.drafts, out, version_of(read_text(desk.home.settings)))
    following = after(one.key)
    if do in ("save", "next"):
        mark_done(desk, one.key)
    if do == "next" and following is not None:
        return then(saved(following.key, *told))
    return then(saved(one.key, *told))


def _put_back(desk: Desk, part: StepPart, said: Said) -> None:
    """Write the row that was taken out last to where it was, with all that was typed since."""
    path = desk.home.settings
    text = read_text(path)
    _refuse_another(said, text)
    out = remembered(desk.drafts, version_of(text))
    if out is None:
        raise CompanionError(_("Nothing is left to be put back."), safe=_("The settings are as they were."))
    document = parse_document(out.before, str(path))
    if out.place:
        part.fill(document, moved_down(said, out.place))
    rewrite(path, tomlkit.dumps(document))


def _refuse_another(said: Said, text: str) -> None:
    """Raise CompanionError if the settings file is not the one that the page was made of."""
    if said.get("version") != version_of(text):
        raise CompanionError(
            _("The settings file was changed meanwhile, here or in an editor."),
            safe=_("It is as it was."),
            remedy=_("Load this page again and repeat the change."),
        )


def saved(key: str, *told: str) -> str:
    """Return the address of a step that says that something was saved, and what else was done."""
    words = " ".join((_("Saved."), *filter(None, told)))
    return f"/setup/{key}?{urlencode({'saved': words})}"


def mark_done(desk: Desk, key: str) -> None:
    """Note that a step was saved or gone on from, where there is a way to be led."""
    progress = WayIn.recall(desk.home)
    if not progress.over:
        progress.with_done(key).keep(desk.home)


def _page(
    desk: Desk,
    part: StepPart,
    one: Step,
    *,
    http_status: int = 200,
    said: Said | None = None,
    problems: Iterable[Problem] = (),
    told: str = "",
) -> Response:
    text = read_text(desk.home.settings)
    values = tomlkit.parse(text).unwrap()
    typed = said or {}
    standing = problems_in(text)
    here = [problem for problem in standing if problem.at and problem.at[0] in part.holds]
    progress = WayIn.recall(desk.home)
    return desk.page(
        f"setup/{one.key}.html",
        http_status,
        step=one,
        steps=STEPS,
        number=STEPS.index(one) + 1 if one in STEPS else 0,
        back=before(one.key),
        following=after(one.key),
        progress=progress,
        filled=Filled(_standing(desk, part, values), typed, [*here, *problems]),
        elsewhere=[problem for problem in standing if problem not in here],
        values=values,
        version=version_of(text),
        taken_out=remembered(desk.drafts, version_of(text)),
        told=told,
        sure=typed.get(SURE, ""),
        saves=part.saves,
        stamp=stamp_of(desk, one.key),
        stream=f"/setup/{one.key}/stream",
        **part.more(desk, values, typed),
    )


def _standing(desk: Desk, part: StepPart, values: Values) -> dict[str, str]:
    """Return what the file has in each field of a step, by its place."""
    return {field.place: field.value for field in fields_in(values)} | part.own(desk, values)


def version_of(text: str) -> str:
    """Return what tells this text from any other: a file that was changed meanwhile is not overwritten."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def find_step(request: Request) -> Step:
    """Return the step that the address names. Raises CompanionError if there is none."""
    return step(request.path_params["step"])
