"""Which class it is: said after a lesson was opened as another class, or as none."""

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from companion.lesson.mark import Source
from companion.pages.desk import Desk, desk_of, text, then
from companion.recording.naming import known_class_groups, naming
from companion.settings.settings import load_settings


def show(request: Request) -> Response:
    """Ask which class group and plan a session is of."""
    desk = desk_of(request)
    session, settings = desk.session(request), load_settings(desk.home.settings)
    with desk.log() as log:
        groups = known_class_groups(log, settings)
    plans = list(dict.fromkeys((session.plan.name, *(plan.name for plan in settings.plans))))
    return desk.page("naming.html", session=session, groups=groups, plans=plans)


async def save(request: Request) -> Response:
    """Record what was said."""
    desk, session_id = desk_of(request), request.path_params["session"]
    form = await request.form()
    closed = await run_in_threadpool(_save, desk, session_id, form)
    return then(f"/{'review' if closed else 'live'}/{session_id}")


def _save(desk: Desk, session_id: str, form: FormData) -> bool:
    settings = load_settings(desk.home.settings)
    with desk.log() as log:
        session = log.session(session_id)
        wanted = text(form, "plan")
        plan = None if wanted in ("", session.plan.name) else wanted
        now_ms = desk.port.now_ms(session)
        bodies = naming(log, settings, session, text(form, "class_group"), plan, now_ms, Source.PAGE)
    return desk.append(session, form, *bodies).closed
