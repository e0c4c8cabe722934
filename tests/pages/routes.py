"""Every page of the companion, as its routes name them: a page that comes later is tested like the others."""

from collections.abc import Iterable

from starlette.routing import Route

from companion.pages.app import ROUTES
from companion.pages.setup.steps import MORE, STEPS

NO_PAGES = {
    "/note/{session}/plain",
    "/sheet/guest",
    "/sheet/wall",
}
"""Addresses that give a file."""
LEADS_ON = {"/projector", "/live"}
"""Addresses that only lead to another page."""


def paths_of(sessions: Iterable[str] = ()) -> list[str]:
    """Return the path of every page, relative to the door; one a session where it is about one."""
    sessions = list(sessions)
    paths = []
    for route in ROUTES:
        if not isinstance(route, Route) or "GET" not in (route.methods or ()):
            continue
        path = route.path
        if path in NO_PAGES | LEADS_ON or path.endswith("/stream"):
            continue
        if path == "/setup/{step}":
            paths += [f"setup/{step.key}" for step in (*STEPS, MORE)]
            continue
        if path.count("{") > path.count("{session}"):
            continue
        if "{session}" in path:
            paths += [path.format(session=session).removeprefix("/") for session in sessions]
        else:
            paths.append(f".{path}" if path == "/" else path.removeprefix("/"))
    return paths
