"""A hand-off note in another language than the pages holds to it for every word; so do the printed sheets."""

import html
import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner

from companion.cli import cli
from companion.language import ENGLISH, speak
from companion.lesson import aftercare
from companion.lesson import event as ev
from companion.lesson.mark import Kind, NoteKind, Source
from companion.lesson.session import Session
from companion.log.store import open_log
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.days import CLOSED, DayPort, contact, hold, kept, marked
from tests.school_day import EIGHT, HandClock

SETTINGS = """
[words]
language = "es"
note_language = "ko"

[[plans]]
name = "garden lesson"
phases = [{ name = "arrival", minutes = 3, routines = ["boots at the door"] }]

[[phrases]]
say = "tools up high"
does = "praise"
routine = "boots at the door"

[[keys]]
press = "ctrl+alt+p"
does = "reminder"
"""
THEIRS = re.compile(
    r"4-Hazel|tools back|boots at the door|garden lesson|tools up high|table four|arrival|four|a splinter"
    r"|it heals well|after the bell|K\. T\.|S\. L\.|Half Basket|Full Basket|First Sprout|a calm day"
    r"|ctrl\+alt\+p|H1|CSS"
)
"""What people wrote, which stays as it is."""
SPANISH = re.compile(
    r"reconocimiento|elogio|recordatorio|margen|clase|familia|nota|bien|nivel", re.IGNORECASE
)


@pytest.fixture(autouse=True)
def speak_english_again() -> Iterator[None]:
    """Undo that a command speaks the language of its home for the whole process."""
    yield
    speak(ENGLISH)


@pytest.fixture
def session(home: Home) -> Session:
    """Hold two lessons: a promise is kept after the first, and the second has all that a note can tell."""
    home.settings.write_text(SETTINGS, encoding="utf-8")
    note = ev.NoteOpened(NoteKind.HEALTH_OFFICE, 600_000, Source.KEY)
    with open_log(home.log) as log:
        hold(
            log,
            "4-Hazel",
            EIGHT - timedelta(days=7),
            note,
            ev.NoteCompleted("n3", "K. T.", NoteKind.HEALTH_OFFICE, "a splinter", contact(EIGHT.date())),
            CLOSED,
            aftercare.PromiseKept("n3", EIGHT.date() - timedelta(days=3), "it heals well", tell=True),
            ev.SessionSettled(),
        )
        return hold(
            log,
            "4-Hazel",
            EIGHT,
            *marked(3, 1, routine="tools back"),
            ev.MarkMade(Kind.REMINDER, 400_000, Source.KEY, "table four"),
            ev.MarkMade(Kind.PRAISE, 420_000, Source.KEY),
            *kept(6),
            note,
            ev.NoteCompleted("n15", "S. L.", NoteKind.PEER_CONFLICT, "", contact(EIGHT.date())),
            ev.NoteOpened(NoteKind.ARRIVED_LATE, 900_000, Source.KEY),
            ev.NoteCompleted("n17", "K. T.", NoteKind.ARRIVED_LATE, "after the bell"),
            CLOSED,
            ev.SessionSettled(),
        )


def words_of(page: str) -> str:
    """Return what a page says, without marks of HTML and what people wrote."""
    body = re.sub(r"<style>.*?</style>|<[^>]*>", " ", page, flags=re.DOTALL)
    return THEIRS.sub("", html.unescape(body))


def is_korean(page: str) -> bool:
    """Whether a text has Korean words, and none of another language."""
    words = words_of(page)
    assert re.findall(r"[A-Za-záéíóúñ]{2,}", words) == []
    return re.search("[가-힣]{2}", words) is not None


def test_the_page_speaks_one_language_and_the_note_on_it_another(home: Home, session: Session) -> None:
    """Also the copy as text, and among the notes of today."""
    clock = HandClock()
    clock.go_on(3600)
    server = PageServer(home, DayPort(home.log, clock), clock.wall).start()
    try:
        with httpx.Client(base_url=server.base, follow_redirects=True) as client:
            client.get(server.address())
            for path in (f"note/{session.id}", "notes"):
                page = client.get(path).text
                article = re.search("<article.*?</article>", page, re.DOTALL)
                assert article is not None
                assert is_korean(article[0])
                assert "four 모둠" in article[0]
                around = page.replace(article[0], "")
                around = re.sub('<pre id="plain".*?</pre>', "", around, flags=re.DOTALL)
                assert '<html lang="es"' in page
                assert re.search("[가-힣]", around.split("</nav>")[-1]) is None
            plain = client.get(f"note/{session.id}/plain").text
            assert is_korean(plain)
    finally:
        server.stop()


def called(home: Home, *args: str) -> str:
    """Return what a command says."""
    done = CliRunner().invoke(cli, ["--home", str(home.folder), *args], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_so_do_the_command_and_the_printed_page(home: Home, session: Session, tmp_path: Path) -> None:
    """With level, advice, contact, private notes and a promise that was kept."""
    file = tmp_path / "note.html"
    said = called(home, "note", session.id[:12], "--html", str(file))
    page = file.read_text(encoding="utf-8")
    assert '<html lang="ko"' in page
    for text in (said, page):
        assert is_korean(text)
        for theirs in ("Half Basket", "tools back", "K. T.", "S. L.", "it heals well", "after the bell"):
            assert theirs in text


@pytest.mark.parametrize("asked", [(), ("--wall",)])
def test_the_sheets_from_the_settings_speak_the_language_of_the_pages(
    home: Home, session: Session, tmp_path: Path, asked: tuple[str, ...]
) -> None:
    """For the guest and for the wall."""
    assert session.settled
    file = tmp_path / "sheet.html"
    called(home, "sheet", str(file), *asked)
    page = file.read_text(encoding="utf-8")
    assert '<html lang="es"' in page
    said = set(re.findall(r"[a-z]{4,}", words_of(page).lower()))
    assert said & {"the", "with", "what", "class", "phrases", "keys", "never", "routines", "lesson"} == set()
    assert "boots at the door" in page
