"""Lets each page speak the language that the settings ask for."""

import re
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from companion.language import ENGLISH, LANGUAGES, speaking
from companion.pages.setup.steps import WayIn
from companion.paths import Home
from companion.settings.chosen_language import chosen_language


class InOwnLanguage:
    """ASGI middleware: within a request the language of the home is spoken."""

    def __init__(self, app: ASGIApp, home: Home) -> None:
        self._app = app
        self._home = home

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request."""
        with speaking(chosen_language(self._home.settings).own or self._guess(scope)):
            await self._app(scope, receive, send)

    def _guess(self, scope: Scope) -> str:
        """Return the language to begin in, until one is chosen: the one asked for, or the browser's."""
        if self._home.settings.exists() and WayIn.recall(self._home).over:
            return ENGLISH
        asked = parse_qs(scope["query_string"].decode("latin-1")).get("language", [])
        accepted = re.findall(r"([a-z]{2,3})\b[^,]*", Headers(scope=scope).get("accept-language", "").lower())
        return next((code for code in (*asked, *accepted) if code in LANGUAGES), ENGLISH)
