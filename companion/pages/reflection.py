"""The reflection: the class's side, safe to project, and the teacher's own side beside it.

The class sees routines, never children, and a step taken there never leads away from it.
"""

from contextlib import suppress

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response
from ulid import ULID

from companion.errors import CompanionError
from companion.language import _
from companion.lesson import event as ev
from companion.lesson.command import Action, Command
from companion.lesson.handoff import phase_summaries
from companion.lesson.reflection import Rating, carry_over_ideas, rating_of
from companion.lesson.session import Session
from companion.pages.child_codes import SEEN, codes_of, codes_to_ask
from companion.pages.desk import Desk, desk_of, text, then, wish_of
from companion.pages.first import routine_pictures
from companion.pages.telling import as_told, just_told
from companion.pages.words import recognition_words
from companion.recording.settling import award_words, settling

LONGEST = 400
"""Letters of a carry-over or a view: what can be said in half a minute."""
MOST_HANDS = 99
TEACHERS = "reflection_teacher.html"
"""The teacher's side; the class's knows only what the class was told."""


def show(request: Request) -> Response:
    """Show the class's side: what went well, what needed a reminder, what is taken home."""
    return _page(request, "reflection.html", asking=False)


def teacher(request: Request) -> Response:
    """Show the teacher's side: the own view, the carry-over, another recognition, opening again."""
    return _page(request, TEACHERS, asking=False)


def projector(request: Request) -> Response:
    """Show the class's side without a control, for a window that nobody touches."""
    return _page(request, "reflection.html", asking=False, controls=False)


def _page(
    request: Request,
    template: str,
    *,
    asking: bool,
    controls: bool = True,
    kept: FormData | None = None,
    codes: tuple[str, ...] = (),
) -> Response:
    desk = desk_of(request)
    with desk.log() as log:
        session = log.session(request.path_params["session"])
        shown = session if template == TEACHERS else as_told(session)
        award = award_words(log, shown)
    return desk.page(
        template,
        session=shown,
        controls=controls,
        phases=phase_summaries(shown),
        pictures=routine_pictures(desk, shown),
        untold=session.untold,
        telling=just_told(session),
        ratings=tuple(Rating),
        ideas=carry_over_ideas(session),
        reached=recognition_words(session),
        award=award,
        levels=[level.name for level in session.levels],
        asking=asking,
        unkept_words=asking and bool(_codes_in_drafts(desk, session)),
        kept=kept or {},
        codes=codes,
        seen=SEEN,
        longest=LONGEST,
        stamp=desk.stamp(session),
    )


async def step(request: Request) -> Response:
    """Take one step on the class's side, and stay there."""
    return await _taken(request, "reflection.html", "")


async def teacher_step(request: Request) -> Response:
    """Take one step on the teacher's side, and stay there."""
    return await _taken(request, TEACHERS, "/teacher")


async def _taken(request: Request, template: str, side: str) -> Response:
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    if codes := codes_to_ask(await run_in_threadpool(desk.session, request), form):
        return await run_in_threadpool(_page, request, template, asking=False, kept=form, codes=codes)
    done = await run_in_threadpool(_step, desk, session_id, form)
    if not done:
        return await run_in_threadpool(_page, request, template, asking=True)
    return then(f"/reflection/{session_id}{side}")


def _step(desk: Desk, session_id: str, form: FormData) -> bool:
    """Record a step; return False where settling has to ask first."""
    with desk.log() as log:
        session = log.session(session_id)
    if text(form, "do") == "tell":
        desk.port.submit(session.id, Command(Action.TELL), request=wish_of(form))
        return True
    if text(form, "do") != "settle":
        desk.append(session, form, body_of(session, form))
        return True
    if (session.unreviewed or _codes_in_drafts(desk, session)) and not text(form, "sure"):
        return False
    if not session.closed:
        desk.port.close(session.id, request=str(ULID()))
    _settle(desk, session, form)
    return True


def _settle(desk: Desk, session: Session, form: FormData) -> None:
    """Settle with all that was typed in the reflection, whether its own buttons were pressed or not."""
    forms, typed = _typed(desk, session)
    with desk.log() as log:
        ends = settling(log, session, session.recognition)
    desk.append(session, form, *typed, *ends)
    desk.drafts.forget(*forms)


def _codes_in_drafts(desk: Desk, session: Session) -> tuple[str, ...]:
    """Return what may be a child's code in words that settling would take over from the teacher's side."""
    typed = (desk.drafts.typed(f"{session.id}/{do}").get("text", "") for do in ("view", "carry-over"))
    return codes_of(session, " ".join(typed))


def _typed(desk: Desk, session: Session) -> tuple[list[str], list[ev.Body]]:
    """Return the forms of the reflection that hold words which were not sent, and the events they ask for."""
    forms, bodies = [], []
    for do in ("rate", "view", "carry-over"):
        name = f"{session.id}/{do}"
        if typed := desk.drafts.typed(name):
            # What can't be read stays a draft.
            with suppress(CompanionError):
                bodies.append(body_of(session, FormData({"do": do, **typed})))
                forms.append(name)
    return forms, bodies


def body_of(session: Session, form: FormData) -> ev.Body:
    """Return the event of one button of the reflection.

    Raises CompanionError for a button or value that the page does not have.
    """
    match text(form, "do"):
        case "rate":
            return _rated(form)
        case "view":
            return ev.TeacherViewed(text(form, "text", LONGEST))
        case "carry-over":
            return ev.CarryOverWritten(text(form, "text", LONGEST))
        case "overrule":
            level = text(form, "level")
            known = {level.name for level in session.levels}
            return ev.RecognitionOverruled(level if level in known else None, text(form, "reason", LONGEST))
        case "reopen":
            return ev.SessionReopened(text(form, "reason", LONGEST))
    raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def _rated(form: FormData) -> ev.SelfRated:
    """Return the class's rating: one choice, or a count of hands."""
    counted = [text(form, f"hands-{index}") for index in range(len(Rating))]
    if any(counted):
        first, second, third = (_hands(count) for count in counted)
        rating = rating_of((first, second, third))
        if rating is not None:
            return ev.SelfRated(rating, (first, second, third))
    choice = text(form, "rating")
    if choice not in tuple(Rating):
        raise CompanionError(_("No rating was chosen."), remedy=_("Choose one, or count hands."))
    return ev.SelfRated(choice)


def _hands(count: str) -> int:
    if not count:
        return 0
    if not count.isdecimal() or int(count) > MOST_HANDS:
        raise CompanionError(
            _("'{count}' is no count of hands.", count=count),
            remedy=_("Give numbers up to {most_hands}.", most_hands=MOST_HANDS),
        )
    return int(count)
