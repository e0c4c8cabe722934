"""Closes the pages to everyone but the person in front of this computer.

Other programs, other users of the computer and other web sites in the same browser all reach a loopback
address. So each request must name the pages' own host (against rebinding of names), come through the door,
which is a secret at the beginning of the path, and, where it writes, come from one of the pages themselves.
There is no cookie: a browser would show it to whatever program listens on another port of the address.
"""

import html
import re
from collections.abc import Mapping
from contextlib import suppress
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from companion.language import _, later, spoken
from companion.pages.keys import Keys

ENTER = "/enter"
"""The address that takes a one-time token."""
MOST_BYTES = 1_000_000
"""No form of ours is longer, but for those that a file comes in."""
FILE_BYTES = {"pictures": 31_000_000, "setup/week/calendar": 5_100_000, "running/model": 500_000_000}
"""The forms with a file, and what they may bring."""
OWN_PATH = re.compile(r"/[a-z]+(/\w+)?")
"""Where a one-time token may lead: a page of ours, never another host."""
READING = frozenset({"GET", "HEAD"})

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
        "media-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
"""On every answer: nothing from outside the machine, nothing kept by the browser."""

CLOSED = later("This page is private. Open it from the companion: companion pages --open")


class Guard:
    """ASGI middleware that lets a request through to `app` only if it is the teacher's own."""

    def __init__(self, app: ASGIApp, keys: Keys, port: int) -> None:
        self._app = app
        self._keys = keys
        self._hosts = frozenset({f"127.0.0.1:{port}", f"localhost:{port}"})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or let it through; one that breaks off is nobody's trouble."""
        if scope["type"] == "http":
            with suppress(ClientDisconnect):
                await self._answer(scope, receive, send)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        door, slash, _path = scope["path"].removeprefix("/").partition("/")

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    answer.setdefault(name, value)
                if answer.get("location", "").startswith("/"):
                    answer["location"] = f"/{door}{answer['location']}"
            await send(message)

        if headers.get("host") not in self._hosts:
            answer: ASGIApp = _refused(421, _("This is not the address of the companion's pages."))
        elif scope["path"] == ENTER:
            door = self._keys.door
            answer = await self._enter(Request(scope, receive))
        else:
            answer = self._refusal(scope, headers, door) or self._app
        path = scope["path"] if slash else f"{scope['path']}/"
        await answer({**scope, "path": path, "root_path": f"/{door}"}, receive, send_with_headers)

    def _refusal(self, scope: Scope, headers: Headers, door: str) -> Response | None:
        """Return why the request may not pass, or None."""
        if not self._keys.opens(door):
            return _refused(403, _(CLOSED))
        if scope["method"] in READING:
            # None: typed, from the browser's history, or by a program that is no browser.
            alone = headers.get("sec-fetch-site") in (None, "none", "same-origin")
            return None if alone else _refused(403, _(CLOSED))
        most = FILE_BYTES.get(scope["path"].removeprefix(f"/{door}/"), MOST_BYTES)
        return self._answer_to_write(parse_qs(scope["query_string"].decode("latin-1")), headers, most)

    def _answer_to_write(
        self, query: Mapping[str, list[str]], headers: Headers, most: int
    ) -> Response | None:
        if not _from_own_page(headers):
            return _refused(403, _("This did not come from one of the companion's pages."))
        if not self._keys.knows(query.get("page", [""])[0]):
            return _refused(403, _("This page is out of date. Load it again and repeat the step."))
        length = headers.get("content-length", "")
        if not length.isdecimal() or int(length) > most:
            return _refused(413, _("That is more than any page of the companion sends."))
        return None

    async def _enter(self, request: Request) -> Response:
        """Let in with a one-time token: in the address, or posted by the file that the companion opened."""
        if request.method == "GET":
            token, to = (request.query_params.get(name, "") for name in ("token", "to"))
            if not self._keys.spend(token):
                return _refused(403, _(CLOSED))
            if request.headers.get("sec-fetch-site") in (None, "none"):
                return RedirectResponse(_own(to), 303)
            return self._let_in(to)
        if request.method != "POST" or not _is_short(request.headers):
            return _refused(403, _(CLOSED))
        form = await request.form()
        if not self._keys.spend(str(form.get("token", ""))):
            return _refused(403, _(CLOSED))
        return self._let_in(str(form.get("to", "")))

    def _let_in(self, to: str) -> Response:
        # The page that follows is asked for by this one: what a file asks for, or a page at another port,
        # counts as of another site.
        path = f"/{self._keys.door}{_own(to)}"
        return HTMLResponse(LET_IN.format(language=spoken(), path=html.escape(path), words=_("To the pages")))


LET_IN = (
    '<!doctype html><html lang="{language}"><title>Lesson Companion</title>'
    '<meta http-equiv="refresh" content="0;url={path}"><p><a href="{path}">{words}</a></p></html>'
)
LONGEST_ENTRY = 1_000


def _own(to: str) -> str:
    return to if OWN_PATH.fullmatch(to) else "/"


def _is_short(headers: Headers) -> bool:
    length = headers.get("content-length", "")
    return length.isdecimal() and int(length) <= LONGEST_ENTRY


def _refused(status: int, why: str) -> Response:
    return PlainTextResponse(f"{why}\n", status)


def _from_own_page(headers: Headers) -> bool:
    """Whether the browser says that the request came from a page of the same origin."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    return headers.get("origin") == f"http://{headers.get('host')}"
