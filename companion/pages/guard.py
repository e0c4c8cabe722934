"""Closes the pages to everyone but the person in front of this computer.

Other programs, other users of the computer and other web sites in the same browser all reach a loopback
address. So each request must name the pages' own host (against rebinding of names), come with the cookie
that the opened address was exchanged for, and, where it writes, come from one of the pages themselves.
"""

import hashlib
import hmac
import re
import secrets
import threading
from collections.abc import Mapping
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

ENTER = "/enter"
"""The address that takes a one-time token."""
COOKIE = "companion"
COOKIE_DAYS = 30
MOST_BYTES = 1_000_000
"""No form of ours is longer."""
OWN_PATH = re.compile(r"/[a-z]+(/\w+)?")
"""Where a one-time token may lead: a page of ours, never another host."""
READING = frozenset({"GET", "HEAD"})

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cache-Control": "no-store",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
"""On every answer: nothing from outside the machine, nothing kept by the browser."""

CLOSED = "This page is private. Open it from the companion: companion pages --open\n"


class Keys:
    """The secret that the pages' cookie and forms are made of, and one-time tokens to get in.

    secret: kept between runs, so that a page stays open over a restart of the companion.
    """

    def __init__(self, secret: bytes) -> None:
        self._secret = secret
        self._tokens: set[str] = set()
        self._lock = threading.Lock()

    def one_time_token(self) -> str:
        """Return a token that opens the pages once."""
        token = secrets.token_urlsafe(32)
        with self._lock:
            self._tokens.add(token)
        return token

    def spend(self, token: str) -> bool:
        """Return whether `token` opens the pages; it never does again."""
        with self._lock:
            found = next((one for one in self._tokens if hmac.compare_digest(one, token)), None)
            self._tokens.discard(found or "")
        return found is not None

    @property
    def cookie(self) -> str:
        """What a browser that was let in shows with each request."""
        return self._made_of(b"cookie")

    @property
    def page_token(self) -> str:
        """What each form of the pages carries, and no other site knows."""
        return self._made_of(b"page")

    def _made_of(self, purpose: bytes) -> str:
        return hmac.new(self._secret, purpose, hashlib.sha256).hexdigest()


class Guard:
    """ASGI middleware that lets a request through to `app` only if it is the teacher's own."""

    def __init__(self, app: ASGIApp, keys: Keys, port: int) -> None:
        self._app = app
        self._keys = keys
        self._hosts = frozenset({f"127.0.0.1:{port}", f"localhost:{port}"})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or let it through."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                answer = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    answer.setdefault(name, value)
            await send(message)

        answer = self._own_answer(scope, headers) or self._app
        await answer(scope, receive, send_with_headers)

    def _own_answer(self, scope: Scope, headers: Headers) -> Response | None:
        """Return the guard's answer, or None where the request may pass."""
        query = parse_qs(scope["query_string"].decode("latin-1"))
        if headers.get("host") not in self._hosts:
            return _refused(421, "This is not the address of the companion's pages.\n")
        if scope["path"] == ENTER and scope["method"] == "GET":
            return self._enter(query.get("token", [""])[0], query.get("to", [""])[0])
        if not hmac.compare_digest(_cookie(headers), self._keys.cookie):
            return _refused(403, CLOSED)
        return None if scope["method"] in READING else self._answer_to_write(query, headers)

    def _answer_to_write(self, query: Mapping[str, list[str]], headers: Headers) -> Response | None:
        if not _from_own_page(headers):
            return _refused(403, "This did not come from one of the companion's pages.\n")
        token = query.get("page", [""])[0]
        if not (token.isascii() and hmac.compare_digest(token, self._keys.page_token)):
            return _refused(403, "This page is out of date. Load it again and repeat the step.\n")
        length = headers.get("content-length", "")
        if not length.isdecimal() or int(length) > MOST_BYTES:
            return _refused(413, "That is more than any page of the companion sends.\n")
        return None

    def _enter(self, token: str, to: str) -> Response:
        if not token.isascii() or not self._keys.spend(token):
            return _refused(403, CLOSED)
        answer = RedirectResponse(to if OWN_PATH.fullmatch(to) else "/", 303)
        answer.set_cookie(
            COOKIE, self._keys.cookie, httponly=True, samesite="strict", max_age=COOKIE_DAYS * 86_400
        )
        return answer


def _refused(status: int, why: str) -> Response:
    return PlainTextResponse(why, status)


def _from_own_page(headers: Headers) -> bool:
    """Whether the browser says that the request came from a page of the same origin."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    return headers.get("origin") == f"http://{headers.get('host')}"


def _cookie(headers: Headers) -> str:
    try:
        morsel = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        return ""
    return morsel.value if morsel and morsel.value.isascii() else ""
