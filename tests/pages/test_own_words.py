"""The pages in other languages: nothing stays English, nothing breaks where all is the other way round."""

import json
import re
import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import closing
from html.parser import HTMLParser

import httpx
import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, BrowserContext, expect

from companion.cli import cli
from companion.language import ENGLISH, speak
from companion.lesson.session import Session
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.catalogues import found
from tests.pages.axe import STANDARD, found_wrong
from tests.pages.conftest import WAIT_MS
from tests.pages.days import DayPort, whole_day
from tests.pages.routes import paths_of
from tests.pages.test_access import SETTINGS, show_here
from tests.school_day import CLASSES, EIGHT, HandClock

LOOKED_AT = ("./", "live/live", "review/review", "reflection/review/teacher", "history", "setup/week")
"""Pages that stand for the others where looking is slow."""
OWN_NAMES = {"Lesson Companion", "English", "Español", "an apron and dry boots", "garden", *CLASSES.values()}
"""Of programs and languages, and what the timetable of the tests says."""
READ_OUT = ("aria-label", "title", "placeholder", "alt")
OWN_WORDS = "data-own-words"
"""An element whose words are nobody's language: names of files, what is typed into a file."""
EMPTY = {"img", "input", "br", "meta", "link"}
LEFT_OUT = {"script", "style", "noscript", "code", "kbd", "textarea"}
"""What is no sentence, or stands as it was typed and is pressed; so does a span that says to be English."""


class Texts(HTMLParser):
    """Gathers what a page says, seen or heard."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._within: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take what an element is called."""
        self.found += [value for name, value in attrs if name in READ_OUT and value]
        own = any(name == OWN_WORDS for name, _value in attrs) or (tag == "span" and ("lang", "en") in attrs)
        if self._within or tag in LEFT_OUT or own:
            self._within += [] if tag in EMPTY else [tag]

    def handle_endtag(self, tag: str) -> None:
        """Leave an element."""
        if self._within[-1:] == [tag]:
            self._within.pop()

    def handle_data(self, data: str) -> None:
        """Take a text."""
        if not self._within and data.strip():
            self.found.append(" ".join(data.split()))


@pytest.fixture
def day(home: Home) -> dict[str, Session]:
    """Write a day of lessons, in every state that a lesson can be in."""
    home.settings.write_text(SETTINGS, encoding="utf-8")
    return whole_day(home.log, EIGHT)


@pytest.fixture
def server(home: Home, clock: HandClock) -> Iterator[PageServer]:
    """Serve the pages of a companion with a timetable."""
    serving = PageServer(home, DayPort(home.log, clock), clock.wall).start()
    yield serving
    serving.stop()


def written_by_people(home: Home) -> list[str]:
    """Return what the teacher wrote into settings and log, longest first: it stays as it is on every page."""
    ours = {
        form for one in found() for form in ([one.message] if isinstance(one.message, str) else one.message)
    }
    with closing(sqlite3.connect(home.log)) as db:
        bodies = [json.loads(body) for (body,) in db.execute("SELECT body FROM event")]
    settings = tomllib.loads(home.settings.read_text(encoding="utf-8"))
    periods = settings["timetable"]["hours"]["usual"]
    words = {*strings_in(bodies), *strings_in(settings), *periods}
    return sorted((words | OWN_NAMES) - ours, key=len, reverse=True)


def strings_in(value: object) -> Iterator[str]:
    """Yield every text within a value of JSON."""
    match value:
        case str():
            yield value
        case dict():
            for inner in value.values():
                yield from strings_in(inner)
        case list():
            for inner in value:
                yield from strings_in(inner)


def english_in(page: str, theirs: list[str]) -> list[str]:
    """Return the texts of a page that are English without being the teacher's own words."""
    texts = []
    for text in Texts(page).found:
        rest = text
        for words in theirs:
            rest = re.sub(rf"(?<!\w){re.escape(words)}(?!\w)", "", rest)
        if re.search(r"[A-Za-z]{2}", rest):
            texts.append(text)
    return texts


def window_of(browser: Browser, server: PageServer, locale: str = "en-US") -> BrowserContext:
    """Return a window that was let in, of a browser in that language."""
    context = browser.new_context(
        base_url=server.base, locale=locale, viewport={"width": 1280, "height": 720}
    )
    context.set_default_timeout(WAIT_MS)
    first = context.new_page()
    first.goto(server.address())
    first.close()
    return context


@pytest.fixture
def paths(day: dict[str, Session]) -> dict[str, str]:
    """Return the path of every page by its name: of a lesson that goes on, that is over, that is settled."""
    names = {day[state].id: state for state in ("live", "review", "settled")}
    every = [*paths_of(names), "nowhere"]
    return {re.sub("|".join(names), lambda one: names[one[0]], path): path for path in every}


@pytest.mark.usefixtures("pseudo_language")
def test_no_page_says_anything_in_english(server: PageServer, home: Home, paths: dict[str, str]) -> None:
    """Every text of every page goes through the catalogues."""
    theirs = written_by_people(home)
    english: dict[str, list[str]] = {}
    with httpx.Client(base_url=server.base) as client:
        for name, path in paths.items():
            page = client.get(path).text
            assert '<html lang="en" dir="rtl">' in page, name
            if texts := english_in(page, theirs):
                english[name] = texts
    assert english == {}


@pytest.mark.usefixtures("pseudo_language")
def test_no_page_breaks_from_right_to_left(
    browser: Browser, server: PageServer, paths: dict[str, str]
) -> None:
    """With words a third longer no page is scrolled sideways, and axe is quiet."""
    window = window_of(browser, server)
    page = window.new_page()
    broken: list[str] = []
    for name, path in paths.items():
        page.set_viewport_size({"width": 1280, "height": 720})
        page.goto(path)
        show_here(page)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        if name in LOOKED_AT and (wrong := found_wrong(page, STANDARD)):
            broken.append(f"{name}\n{wrong}")
        for width in (1280, 390):
            page.set_viewport_size({"width": width, "height": 720})
            if page.evaluate("document.documentElement.scrollWidth") > width:
                broken.append(f"{name} is wider than {width}")
    window.close()
    assert broken == []


def test_the_language_is_chosen_at_the_very_beginning(
    browser: Browser, server: PageServer, home: Home
) -> None:
    """An empty home speaks the browser's language, then the one that is pressed; all pages from then on."""
    window = window_of(browser, server, "ko-KR")
    page = window.new_page()
    page.goto("setup")
    expect(page.locator("html")).to_have_attribute("lang", "ko")
    expect(page.locator("h1")).to_have_text("설정")
    page.get_by_role("button", name="Español").click()
    expect(page.locator("html")).to_have_attribute("lang", "es")
    page.get_by_role("button", name="Empezar").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Qué es esto")
    assert 'language = "es"' in home.settings.read_text(encoding="utf-8")
    page.get_by_role("button", name="English").click()
    expect(page.locator("html")).to_have_attribute("lang", "en")
    page.goto("setup/school")
    page.get_by_label("Language of these pages").select_option("한국어")
    page.get_by_role("button", name="Save and go on").click()
    expect(page.locator("h1")).to_contain_text("마이크")
    page.goto("./")
    expect(page.locator("html")).to_have_attribute("lang", "ko")
    window.close()


def test_a_hand_off_note_may_speak_another_language_than_the_pages(
    server: PageServer, home: Home, day: dict[str, Session]
) -> None:
    """The sheet, its text to copy and the terminal's are in the note's own; all around it is not."""
    text = home.settings.read_text(encoding="utf-8")
    words = '[words]\nlanguage = "ko"\nnote_language = "es"\n'
    home.settings.write_text(words + text, encoding="utf-8")
    with httpx.Client(base_url=server.base) as client:
        page = client.get(f"note/{day['settled'].id}").text
        plain = client.get(f"note/{day['settled'].id}/plain").text
    assert '<html lang="ko"' in page
    assert "전달 메모" in page
    sheet = page[page.index("<article") : page.index("</article>")]
    assert 'lang="es"' in sheet
    assert "lunes 14 de septiembre de 2026" in sheet
    assert "Lo que salió bien:" in plain
    typed = ["--home", str(home.folder), "note", "4-Hazel"]
    printed = CliRunner().invoke(cli, typed, catch_exceptions=False)
    speak(ENGLISH)
    assert plain in printed.stdout
