"""The pages are closed to everyone but the person in front of the computer."""

import socket
from collections.abc import Iterator

import httpx
import pytest

from companion.log.store import open_log
from companion.pages.guard import HEADERS, MOST_BYTES
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
def teacher(stranger: httpx.Client, server: PageServer) -> httpx.Client:
    """Return a browser that opened the one-time address."""
    stranger.get(server.address())
    return stranger


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
    ):
        answer = stranger.get(path)
        assert answer.status_code == 403, path
        assert SECRET_WORDS not in answer.text


def test_the_token_opens_once(server: PageServer, stranger: httpx.Client) -> None:
    """An address found in a history or a process list afterwards opens nothing."""
    address = server.address()
    first = stranger.get(address)
    assert first.status_code == 303
    cookie = first.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    stranger.cookies.clear()
    assert stranger.get(address).status_code == 403


def test_the_token_leads_to_our_own_pages_only(server: PageServer, stranger: httpx.Client) -> None:
    """The address that lets in can't be used to send the teacher elsewhere."""
    for to, expected in {"/review/01ABC": "/review/01ABC", "//evil.test/": "/", "/\\evil.test": "/"}.items():
        assert stranger.get(server.address(to)).headers["location"] == expected


@pytest.mark.parametrize(
    "host", ["evil.test", "evil.test:80", "127.0.0.1", "127.0.0.1:1", "127.0.0.1.evil.test"]
)
def test_a_foreign_host_name_is_refused(teacher: httpx.Client, review: str, host: str) -> None:
    """A name rebound to the loopback address reaches no page, even with the cookie."""
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
    """A page of another origin writes nothing, even if it knew cookie and token."""
    assert write(teacher, review, token_of(teacher, review), **headers).status_code == 403
    assert 'id="m3" tabindex="-1" data-card="mark" data-open' in teacher.get(review).text


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
