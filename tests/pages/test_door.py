"""Nobody but the person in front of the computer comes through the door of the served pages."""

import os
import re
import socket
import stat
from collections.abc import Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import httpx
import pytest
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import Page

from companion.clock import ComputerClock
from companion.errors import CompanionError
from companion.log.store import open_log
from companion.pages.guard import HEADERS, MOST_BYTES
from companion.pages.keys import Doorway, Keys, close_all
from companion.pages.port import LogPort
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


def test_what_asks_at_the_old_port_tells_whoever_took_it_nothing_of_use(home: Home) -> None:
    """A page that is open asks there for the companion that ended, and names the door."""
    clock, port = ComputerClock().wall, LogPort(home.log, ComputerClock().wall)
    server = PageServer(home, port, clock).start()
    server.stop()
    before = server.base.split("/")[3]
    again = PageServer(home, port, clock).start()
    again.stop()
    assert again.base == server.base
    with socket.create_server(("127.0.0.1", server.port)):
        moved = PageServer(home, port, clock).start()
        moved.stop()
    assert moved.port != server.port
    assert moved.base.split("/")[3] != before


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


def test_closing_all_that_the_disk_does_not_take_is_not_said_to_be_done(home: Home) -> None:
    """The old secret holds still, and whoever asked has to know."""
    (home.run / "pages.json" / "in the way").mkdir(parents=True)
    with pytest.raises(CompanionError, match="could not be closed"):
        close_all(home, ComputerClock().wall().date())


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
