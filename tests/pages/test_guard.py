"""The pages are closed to everyone but the person in front of the computer."""

import asyncio
import os
import re
import socket
import stat
from collections.abc import Coroutine, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Page
from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from companion.clock import ComputerClock
from companion.log.store import open_log
from companion.pages.guard import FILE_BYTES, HEADERS, LONGEST_ENTRY, MOST_BYTES, Guard
from companion.pages.keys import Doorway, Keys, close_all
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.lessons import write_lesson

SECRET_WORDS = "4-Hazel"


@pytest.fixture
def review(home: Home) -> str:
    """Return the path of the review of a lesson."""
    return f"/review/{write_lesson(home.log).id}"


@pytest.fixture
def stranger(server: PageServer) -> Iterator[httpx.Client]:
    """Return a program of another user, or of this one, without the token."""
    with httpx.Client(base_url=f"http://127.0.0.1:{server.port}", trust_env=False) as client:
        yield client


@pytest.fixture
def teacher(server: PageServer) -> Iterator[httpx.Client]:
    """Return a browser that opened the one-time address, and so knows the door."""
    with httpx.Client(trust_env=False) as client:
        client.base_url = client.get(server.address(), follow_redirects=True).url
        yield client


def write(client: httpx.Client, path: str, token: str, **headers: str) -> httpx.Response:
    """Send a step of the review as another origin's page would, with the headers given."""
    form = {"request": "01ARZ3NDEKTSV4RRFFQ69G5FAV", "do": "keep", "item": "m3"}
    return client.post(f"{path}?page={token}", data=form, headers=headers)


def token_of(client: httpx.Client, path: str) -> str:
    """Return the token in the forms of a page."""
    return client.get(path).text.split("?page=")[1].split('"')[0]


def test_without_the_token_every_page_is_closed(stranger: httpx.Client, review: str) -> None:
    """Another user of the computer gets nothing but a refusal, not even a template."""
    for path in (
        "/",
        review,
        "/static/pages.js",
        "/enter",
        "/enter?token=",
        "/enter?token=%C3%A9",
        "/nothing",
        f"/{'0' * 32}/",
        f"/{'é' * 32}{review}",
        "//",
    ):
        answer = stranger.get(path)
        assert answer.status_code == 403, path
        assert SECRET_WORDS not in answer.text


def test_the_token_opens_once(server: PageServer, stranger: httpx.Client) -> None:
    """An address found in a history or a process list afterwards opens nothing."""
    address = server.address()
    assert stranger.get(address, follow_redirects=True).status_code == 200
    assert stranger.get(address).status_code == 403


def test_the_token_opens_for_a_minute() -> None:
    """An address that nobody opened is of no use to who finds it later."""
    now_s = 100.0
    keys = Keys(lambda: b"a secret", lambda: now_s)
    early, late = keys.one_time_token(), keys.one_time_token()
    now_s += 59
    assert keys.spend(early)
    now_s += 2
    assert not keys.spend(late)


def test_the_file_that_the_browser_opens_lets_in_once(server: PageServer, stranger: httpx.Client) -> None:
    """It is this user's only; the address of the browser's own command line lets nobody in."""
    file = server.file("/history")
    assert os.name != "posix" or stat.S_IMODE(file.stat().st_mode) == 0o600
    page = file.read_text(encoding="utf-8")
    form = dict(re.findall(r'name="(\w+)" value="([^"]+)"', page))
    elsewhere = {"Sec-Fetch-Site": "cross-site", "Origin": "null"}
    let_in = stranger.post("/enter", data=form, headers=elsewhere)
    assert f'url=/{server.base.split("/")[3]}/history"' in let_in.text
    assert stranger.post("/enter", data=form, headers=elsewhere).status_code == 403
    assert form["token"] not in file.as_uri()


def test_no_other_port_of_this_computer_learns_how_to_get_in(page: Page, server: PageServer) -> None:
    """A link to another local program's port carries neither cookie nor Referer nor door."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        page.goto("history")
        page.evaluate(f"document.body.innerHTML = '<a href=http://127.0.0.1:{other.getsockname()[1]}/>x</a>'")
        with suppress(PlaywrightError):
            page.click("a", no_wait_after=True)
        connection, _ = other.accept()
        with connection:
            head = connection.recv(65536).lower()
            connection.sendall(b"HTTP/1.1 204 No Content\r\n\r\n")
    assert head.startswith(b"get / http/1.1")
    assert b"cookie:" not in head
    assert b"referer:" not in head
    assert server.base.split("/")[3].encode() not in head
    assert page.context.cookies() == []


def test_another_day_has_another_door(home: Home) -> None:
    """A restart in mid-lesson keeps pages open; the next day closes them."""
    day = datetime(2026, 9, 14, 10, 0, tzinfo=UTC)
    secrets = []
    for now in (day, day + timedelta(hours=5), day + timedelta(days=1)):
        place = Doorway.recall(home, now.date())
        place.keep(home)
        secrets.append(place.secret)
    assert secrets[0] == secrets[1]
    assert secrets[1] != secrets[2]


def test_closing_all_closes_the_pages_of_every_process(
    server: PageServer, teacher: httpx.Client, home: Home, review: str
) -> None:
    """Served by the companion or beside it: the open page shows and writes nothing more."""
    token = token_of(teacher, review)
    pending = server.address()
    close_all(home, ComputerClock().wall().date())
    assert teacher.get(review).status_code == 403
    assert write(teacher, review, token, **{"Sec-Fetch-Site": "same-origin"}).status_code == 403
    assert teacher.get(pending).status_code == 403
    with httpx.Client(trust_env=False) as client:
        assert client.get(server.address(), follow_redirects=True).status_code == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_an_address_that_got_out_is_of_no_use_to_another_site(
    teacher: httpx.Client, review: str, site: str
) -> None:
    """From print, history or a picture of the screen: another page can't link to it, load or frame it."""
    answer = teacher.get(review, headers={"Sec-Fetch-Site": site})
    assert answer.status_code == 403
    assert SECRET_WORDS not in answer.text


def test_the_token_leads_to_our_own_pages_only(server: PageServer, stranger: httpx.Client) -> None:
    """The address that lets in can't be used to send the teacher elsewhere."""
    for to, expected in {"/review/01ABC": "review/01ABC", "//evil.test/": "", "/\\evil.test": ""}.items():
        assert server.base.endswith(
            stranger.get(server.address(to)).headers["location"].removesuffix(expected)
        )


@pytest.mark.parametrize(
    "host", ["evil.test", "evil.test:80", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.test"]
)
def test_a_foreign_host_name_is_refused(teacher: httpx.Client, review: str, host: str) -> None:
    """A name rebound to the loopback address reaches no page, even through the door."""
    answer = teacher.get(review, headers={"Host": host})
    assert answer.status_code == 421
    assert SECRET_WORDS not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "http://evil.test"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
    ],
)
def test_a_write_from_elsewhere_is_refused(
    teacher: httpx.Client, review: str, headers: dict[str, str]
) -> None:
    """A page of another origin writes nothing, even if it knew door and token."""
    assert write(teacher, review, token_of(teacher, review), **headers).status_code == 403
    assert re.search(r'id="m3" [^>]*data-card="mark"[^>]* data-open', teacher.get(review).text)


@pytest.mark.parametrize("token", ["", "0" * 64, "é"])
def test_a_write_without_the_token_of_the_page_is_refused(
    teacher: httpx.Client, review: str, token: str
) -> None:
    """The right origin alone is not enough."""
    assert write(teacher, review, token, **{"Sec-Fetch-Site": "same-origin"}).status_code == 403


def test_a_write_from_our_own_page_is_taken(teacher: httpx.Client, server: PageServer, review: str) -> None:
    """Browsers that send no fetch metadata are known by the Origin header."""
    token = token_of(teacher, review)
    origin = {"Origin": f"http://127.0.0.1:{server.port}"}
    assert write(teacher, review, token, **origin).status_code == 303


def test_no_get_changes_anything(teacher: httpx.Client, home: Home, review: str) -> None:
    """Reading every page, with a form's fields in the address as well, leaves the log as it was."""
    session = review.rsplit("/", 1)[1]
    with open_log(home.log) as log:
        before = log.events(session)
    for path in ("/", "/live", f"/live/{session}", review, f"/note/{session}", f"/private/{session}"):
        teacher.get(f"{path}?do=drop&item=m3&request=01ARZ3NDEKTSV4RRFFQ69G5FAV", follow_redirects=True)
    with open_log(home.log) as log:
        assert log.events(session) == before


def test_more_than_any_form_is_refused(teacher: httpx.Client, review: str) -> None:
    """A body beyond every form of ours is not read."""
    token = token_of(teacher, review)
    same = {"Sec-Fetch-Site": "same-origin"}
    answer = teacher.post(f"{review}?page={token}", content=b"a" * (MOST_BYTES + 1), headers=same)
    assert answer.status_code == 413


def test_every_answer_forbids_content_from_elsewhere(teacher: httpx.Client, review: str) -> None:
    """Pages, files and refusals carry the same strict headers."""
    for answer in (teacher.get(review), teacher.get("/static/pages.css"), teacher.get("/nowhere")):
        assert {name: answer.headers[name] for name in HEADERS} == HEADERS


def test_only_the_loopback_address_is_served(server: PageServer) -> None:
    """Another machine on the school's network finds no open port."""
    other = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    with other:
        other.connect(("192.0.2.1", 9))
        own_address = other.getsockname()[0]
    if own_address.startswith("127."):
        own_address = "127.0.0.2"
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection((own_address, server.port), timeout=5)


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
