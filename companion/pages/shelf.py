"""The teacher's pictures for phases, routines and carry-overs: dropped here, shown to the class."""

from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from companion.errors import CompanionError
from companion.language import _, later
from companion.log.care import unsaid
from companion.log.store import open_log
from companion.pages.desk import Desk, desk_of, text, then, wish_of
from companion.paths import Home
from companion.settings.pictures import CAUTION, MOST_BYTES, Pictures, of_carry_over, of_routine
from companion.settings.settings import load_settings


@dataclass(frozen=True, slots=True)
class Pictured:
    """Something that a picture can be of."""

    what: str
    label: str
    name: str
    """The picture's file; "" if there is none."""

    @property
    def id(self) -> str:
        """Where it is on the page: `/pictures#…`."""
        return "-".join(self.what.split())


def show(request: Request) -> Response:
    """Show what there is a picture of, and what can have one."""
    desk = desk_of(request)
    return desk.page("shelf.html", groups=places_of(desk.home), caution=CAUTION, most_bytes=MOST_BYTES)


def places_of(home: Home) -> list[tuple[str, list[Pictured]]]:
    """Return all that can have a picture: what is said next time, and the phases with their routines.

    Raises CompanionError if settings or log can't be read.
    """
    shelf = Pictures(home.pictures)
    routines = {
        of_routine(phase.name, routine): f"{phase.name}: {routine}" if routine else phase.name
        for plan in load_settings(home.settings).plans
        for phase in plan.phases
        for routine in ("", *phase.routines)
    }
    with open_log(home.log) as log:
        carried = {of_carry_over(one.session): f"{one.class_group}: {one.text}" for one in unsaid(log)}
    return [
        (title, [Pictured(what, label, shelf.name_of(what)) for what, label in places.items()])
        for title, places in ((later("Said next time"), carried), (later("Phases and routines"), routines))
        if places
    ]


async def step(request: Request) -> Response:
    """Keep a picture, or take one away."""
    desk = desk_of(request)
    async with request.form() as form:
        file = form.get("picture")
        data = await file.read(MOST_BYTES + 1) if isinstance(file, UploadFile) else b""
        await run_in_threadpool(_step, desk, form, data)
    return then("/pictures")


def _step(desk: Desk, form: FormData, data: bytes) -> None:
    wish_of(form)
    shelf, what = Pictures(desk.home.pictures), text(form, "what")
    match text(form, "do"):
        case "put" if not data:
            raise CompanionError(
                _("No picture was chosen."), remedy=_("Choose a file, or drop one on the field.")
            )
        case "put" if text(form, "child") not in ("yes", "no"):
            raise CompanionError(
                _("It was not said whether a child can be seen in it."),
                safe=_("Nothing was kept."),
                remedy=_("Say so, and drop the picture again."),
            )
        case "put":
            shelf.put(what, data, child_seen=text(form, "child") == "yes")
        case "take-away":
            shelf.take_away(what)
        case _:
            raise CompanionError(_("This page has no such button."), remedy=_("Load it again."))


def picture(request: Request) -> Response:
    """Return a picture."""
    file = Pictures(desk_of(request).home.pictures).file(request.path_params["name"])
    if file is None or not file.is_file():
        raise CompanionError(_("There is no such picture."), remedy=_("Load the page again."))
    return FileResponse(file, media_type="image/jpeg")
