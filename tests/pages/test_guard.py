"""What the guard before the pages lets through, without a network."""

import asyncio
from collections.abc import Coroutine, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import pytest
from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from companion.pages.guard import FILE_BYTES, HEADERS, LONGEST_ENTRY, MOST_BYTES, Guard
from companion.pages.keys import Keys

PORT = 8123
HERE = f"127.0.0.1:{PORT}"


@dataclass(frozen=True)
class Answer:
    """What the guard, or the pages behind it, answered."""

    status: int
    headers: Mapping[str, str]
    text: str


def echo(status: int = 200, headers: Mapping[str, str] | None = None) -> ASGIApp:
    """Return pages that say under which path and root they were asked, with the headers given."""

    async def pages(scope: Scope, receive: Receive, send: Send) -> None:
        told = f"{scope['path']} under {scope['root_path']}"
        await Response(told, status, headers)(scope, receive, send)

    return pages


Named = Mapping[str, str | int]
"""Headers by their names in small letters."""


def ask(
    guard: Guard, method: str, path: str, headers: Named | None = None, *, query: str = "", body: bytes = b""
) -> Answer:
    """Ask the guard without a network. headers: without a host it is the pages' own."""
    named = {"host": HERE, **(headers or {})}
    scope = {
        "type": "http",
        "method": method,
        "path": path,
        "query_string": query.encode(),
        "headers": [(name.encode(), str(said).encode()) for name, said in named.items()],
    }
    sent: list[Message] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Message) -> None:
        sent.append(message)

    call(guard(scope, receive, send))
    answered = Headers(raw=sent[0]["headers"])
    return Answer(sent[0]["status"], answered, b"".join(part["body"] for part in sent[1:]).decode())


def call(answer: Coroutine[Any, Any, None]) -> None:
    """Wait for an answer. A browser that other tests have started keeps a loop running in this thread."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(asyncio.run, answer).result()


@pytest.fixture
def keys() -> Keys:
    """Return secrets that no disk holds."""
    return Keys(lambda: b"s" * 32, lambda: 100.0)


def test_what_is_let_through_is_asked_under_its_door(keys: Keys) -> None:
    """The pages see their own paths, with a slash behind a bare door, and redirect within the door."""
    door = f"/{keys.door}"
    assert ask(Guard(echo(), keys, PORT), "GET", f"{door}/history").text == f"{door}/history under {door}"
    assert ask(Guard(echo(), keys, PORT), "GET", door).text == f"{door}/ under {door}"
    assert ask(Guard(echo(), keys, PORT), "HEAD", f"{door}/").status == 200
    for given, sent in {"/next": f"{door}/next", "http://127.0.0.1:1/": "http://127.0.0.1:1/"}.items():
        assert (
            ask(Guard(echo(303, {"location": given}), keys, PORT), "GET", f"{door}/").headers["location"]
            == sent
        )
    assert "location" not in ask(Guard(echo(), keys, PORT), "GET", f"{door}/").headers


def test_a_page_may_say_itself_how_long_it_is_kept(keys: Keys) -> None:
    """What the guard sends along never overwrites what a page has said."""
    answer = ask(Guard(echo(200, {"Cache-Control": "private"}), keys, PORT), "GET", f"/{keys.door}/")
    assert answer.headers["cache-control"] == "private"
    assert answer.headers["referrer-policy"] == HEADERS["Referrer-Policy"]


@pytest.mark.parametrize(
    ("asked", "status"),
    [
        ({}, 200),
        ({"host": f"localhost:{PORT}"}, 200),
        ({"host": "localhost"}, 421),
        ({"host": f"127.0.0.1:{PORT + 1}"}, 421),
        ({"sec-fetch-site": "none"}, 200),
        ({"sec-fetch-site": "same-origin"}, 200),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
    ],
)
def test_who_may_read(keys: Keys, asked: Named, status: int) -> None:
    """Only who came by the pages themselves, or typed the address."""
    assert ask(Guard(echo(), keys, PORT), "GET", f"/{keys.door}/history", asked).status == status


OWN = {"sec-fetch-site": "same-origin", "content-length": 3}


@pytest.mark.parametrize(
    ("path", "asked", "status"),
    [
        ("/next", OWN, 200),
        ("/next", {"origin": f"http://{HERE}", "content-length": 3}, 200),
        ("/next", {"origin": f"https://{HERE}", "content-length": 3}, 403),
        ("/next", {"content-length": 3}, 403),
        ("/next", {"sec-fetch-site": "none", "content-length": 3}, 403),
        ("/next", {"sec-fetch-site": "cross-site", "origin": f"http://{HERE}", "content-length": 3}, 403),
        ("/next", {**OWN, "content-length": MOST_BYTES}, 200),
        ("/next", {**OWN, "content-length": MOST_BYTES + 1}, 413),
        ("/next", {**OWN, "content-length": "-1"}, 413),
        ("/next", {"sec-fetch-site": "same-origin"}, 413),
        ("/pictures", {**OWN, "content-length": FILE_BYTES["pictures"]}, 200),
        ("/pictures", {**OWN, "content-length": FILE_BYTES["pictures"] + 1}, 413),
        ("/next/pictures", {**OWN, "content-length": MOST_BYTES + 1}, 413),
    ],
)
def test_who_may_write_and_how_much(keys: Keys, path: str, asked: Named, status: int) -> None:
    """Only a page of ours, with its token, that says how long its form is, and no longer than any is."""
    guard, query = Guard(echo(), keys, PORT), f"page={keys.page_token}"
    for method in ("POST", "DELETE"):
        assert ask(guard, method, f"/{keys.door}{path}", asked, query=query).status == status
    assert ask(guard, "POST", f"/{'0' * 32}{path}", asked, query=query).status == 403
    assert ask(guard, "POST", f"/{keys.door}{path}", asked, query=f"page={keys.door}").status == 403
    assert ask(guard, "POST", f"/{keys.door}{path}", asked).status == 403


def test_an_address_leads_in_once_to_a_page_of_ours(keys: Keys) -> None:
    """Behind the door that the address does not tell."""
    guard = Guard(echo(), keys, PORT)
    for to, page in {"/history": "/history", "": "/", "//evil.test": "/", "/a/b/c": "/"}.items():
        query = f"token={keys.one_time_token()}&to={to}"
        let_in = ask(guard, "GET", "/enter", query=query)
        assert (let_in.status, let_in.headers["location"]) == (303, f"/{keys.door}{page}")
        assert ask(guard, "GET", "/enter", query=query).status == 403
    assert ask(guard, "GET", "/enter", query=f"to=/history&other={keys.one_time_token()}").status == 403
    query = f"token={keys.one_time_token()}&to=/history"
    from_another_port = ask(guard, "GET", "/enter", {"sec-fetch-site": "same-site"}, query=query)
    assert from_another_port.status == 200
    assert f'content="0;url=/{keys.door}/history"' in from_another_port.text


def test_a_file_leads_in_once_to_a_page_of_ours(keys: Keys) -> None:
    """By a form as short as ours, whichever site the browser says it comes from."""
    guard = Guard(echo(), keys, PORT)

    def send(form: bytes, method: str = "POST") -> Answer:
        named: Named = {"content-type": "application/x-www-form-urlencoded", "content-length": len(form)}
        return ask(guard, method, "/enter", named, body=form)

    for to, page in {"/history": "/history", "//evil.test": "/"}.items():
        form = f"token={keys.one_time_token()}&to={to}".encode().ljust(LONGEST_ENTRY, b"&")
        assert send(form, "PUT").status == 403
        assert send(form + b"&").status == 403
        assert ask(guard, "POST", "/enter", body=form).status == 403
        let_in = send(form)
        assert (let_in.status, f'url=/{keys.door}{page}"' in let_in.text) == (200, True)
        assert let_in.headers["content-type"].startswith("text/html")
        assert send(form).status == 403
    assert send(b"to=/").status == 403


def test_a_request_that_breaks_off_is_nobodys_trouble(keys: Keys) -> None:
    """And what is no request of a page is not answered."""

    async def broken_off(*_: object) -> None:
        raise ClientDisconnect

    async def nothing(*_: object) -> Any:  # noqa: ANN401 - what it would receive, or send
        raise AssertionError

    scope = {"type": "http", "method": "GET", "path": f"/{keys.door}/", "headers": [(b"host", HERE.encode())]}
    call(Guard(broken_off, keys, PORT)(scope, nothing, nothing))
    call(Guard(echo(), keys, PORT)({"type": "websocket"}, nothing, nothing))
