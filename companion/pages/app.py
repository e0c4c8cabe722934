"""All pages as one ASGI application."""

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from companion.errors import CompanionError
from companion.language import _
from companion.pages import (
    board_step,
    drafts,
    handbill,
    history,
    home,
    kept,
    levels_tried,
    live,
    naming,
    next_time,
    note,
    notes,
    practice,
    private,
    projector,
    reflection,
    review,
    running,
    school,
    shelf,
    sound,
)
from companion.pages.desk import FOLDER, Desk, desk_of
from companion.pages.exercises import streams
from companion.pages.guard import Guard
from companion.pages.own_language import InOwnLanguage
from companion.pages.setup import calendar_import, mend, way

ROUTES = [
    Route("/", home.show),
    Route("/", home.open_session, methods=["POST"]),
    Route("/stream", home.stream),
    Route("/board/{session}", board_step.step, methods=["POST"]),
    Route("/notes", notes.show),
    Route("/notes", notes.step, methods=["POST"]),
    Route("/projector", projector.follow),
    Route("/between", projector.between),
    Route("/projector/stream", projector.stream),
    Route("/live", home.live),
    Route("/live/{session}", live.show),
    Route("/live/{session}", live.press, methods=["POST"]),
    Route("/live/{session}/projector", live.projector),
    Route("/live/{session}/stream", live.stream),
    Route("/draft", drafts.keep, methods=["POST"]),
    Route("/class/{session}", naming.show),
    Route("/class/{session}", naming.save, methods=["POST"]),
    Route("/review/{session}", review.show),
    Route("/review/{session}", review.step, methods=["POST"]),
    Route("/review/{session}/sound/{item}", sound.play),
    Route("/private/{session}", private.show),
    Route("/private/{session}", private.step, methods=["POST"]),
    Route("/reflection/{session}", reflection.show),
    Route("/reflection/{session}", reflection.step, methods=["POST"]),
    Route("/reflection/{session}/projector", reflection.projector),
    Route("/reflection/{session}/teacher", reflection.teacher),
    Route("/reflection/{session}/teacher", reflection.teacher_step, methods=["POST"]),
    Route("/note/{session}", note.show),
    Route("/note/{session}", note.hand_over, methods=["POST"]),
    Route("/note/{session}/plain", note.plain),
    Route("/next", next_time.show),
    Route("/next/{session}", next_time.step, methods=["POST"]),
    Route("/pictures", shelf.show),
    Route("/pictures", shelf.step, methods=["POST"]),
    Route("/picture/{name}", shelf.picture),
    Route("/history", history.show),
    Route("/history/taught", history.taught, methods=["POST"]),
    Route("/history/sheet", history.sheet),
    Route("/history/chart/{name}.{kind}", history.chart),
    Route("/history/levels", levels_tried.show),
    Route("/practice", practice.show),
    Route("/school", school.show),
    Route("/school", school.step, methods=["POST"]),
    Route("/school/sheet", school.sheet),
    Route("/sheet/guest", handbill.guest),
    Route("/sheet/wall", handbill.wall),
    Route("/running", running.show),
    Route("/running", running.step, methods=["POST"]),
    Route("/running/model", running.bring_model, methods=["POST"]),
    Route("/running/stream", running.stream),
    Route("/kept", kept.show),
    Route("/setup", way.overview),
    Route("/setup", way.go, methods=["POST"]),
    Route("/setup/mend", mend.show),
    Route("/setup/mend", mend.save, methods=["POST"]),
    Route("/setup/week/calendar", calendar_import.take_over, methods=["POST"]),
    Route("/setup/{step}/stream", streams.stream),
    Route("/setup/{step}", way.show),
    Route("/setup/{step}", way.save, methods=["POST"]),
    Mount("/static", StaticFiles(directory=FOLDER / "static")),
]


def pages(desk: Desk, port: int) -> ASGIApp:
    """Return the application that serves the pages of `desk` on the loopback `port`, closed to others."""
    app = Starlette(
        routes=ROUTES,
        exception_handlers={CompanionError: _trouble, HTTPException: _no_such_page},
    )
    app.state.desk = desk
    return InOwnLanguage(Guard(app, desk.keys, port), desk.home)


def _trouble(request: Request, error: Exception) -> Response:
    assert isinstance(error, CompanionError)
    return desk_of(request).page("trouble.html", 409, error=error)


def _no_such_page(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    missing = CompanionError(_("There is no such page."), remedy=_("Go on from the first page."))
    return desk_of(request).page("trouble.html", error.status_code, error=missing)
