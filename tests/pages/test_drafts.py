"""Words that were typed are never lost, whatever is pressed, closed or killed."""

import os
import signal
import subprocess
from datetime import datetime, timedelta
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from companion.language import LANGUAGES
from companion.lesson import event as ev
from companion.lesson.mark import NoteKind, Source
from companion.live.forgetting import forget_for_good
from companion.log.drafts import Draft, Drafts
from companion.log.forget import SESSIONS, whole_sessions
from companion.log.store import open_log
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.conftest import ENGINE, WAIT_MS
from tests.pages.days import DayPort, whole_day
from tests.pages.lessons import BODIES, CLOSE, at, record, write_lesson
from tests.pages.routes import paths_of
from tests.running import Companion
from tests.school_day import EIGHT, HandClock
from tests.waiting import until

PHOTO = "form[data-ask] [type=file], form[data-ask] [type=radio]"
FIELDS = (
    f"main form :is(input:not([type=hidden], [type=file], {PHOTO}), textarea, select:not([name^='words.']))"
)
"""Every field; not a file, nor what belongs to a photo: no browser puts them back. Nor the language."""
SETTINGS = """
[school]
name = "Alder Lane School"

[[plans]]
name = "kitchen"
phases = [{ name = "aprons", minutes = 5 }]
"""
Words = dict[tuple[str, str], str]
"""What stands in the fields of a page, by the names of the form and of the field."""
TWO_NOTES = (
    ev.NoteOpened(NoteKind.OTHER, at(43), Source.KEY),
    ev.NoteOpened(NoteKind.TIME_OUT, at(43), Source.KEY),
)


TYPE = """fields => [...document.querySelectorAll(fields)].map((field, index) => {
    if (field.options) field.selectedIndex = field.selectedIndex ? 0 : field.options.length - 1;
    else if (["radio", "checkbox"].includes(field.type)) field.checked = true;
    else if (field.type === "date") field.value = "2031-02-03";
    else field.value = field.getAttribute("inputmode") ? String(index % 90) : `words ${index}`;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    return [draftOf(field.form), field.name, field.value];
})"""
"""Puts something of its own into every field, as typing does."""
OTHER_LANGUAGES = [one.name for one in LANGUAGES.values()]
"""Buttons that load the page anew, in words that the walk does not know."""


def type_everywhere(page: Page) -> Words:
    """Put something of its own into every field of a page; return what is new by form and name."""
    if page.locator("#gate").is_visible():
        page.get_by_role("button", name="Show it here").click()
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    before = words_in(page)
    typed = page.evaluate(TYPE, FIELDS)
    for form, name, _ in typed:
        assert form, f"{page.url}: {name} belongs to a form without a draft"
    now = {(form, name): value for form, name, value in typed}
    return {field: value for field, value in now.items() if before.get(field) != value}


def words_in(page: Page) -> Words:
    """Return what stands in every field of a page; of a choice, what is chosen."""
    words = page.evaluate(
        """fields => [...document.querySelectorAll(fields)]
            .filter((field) => !["radio", "checkbox"].includes(field.type) || field.checked)
            .map((field) => [draftOf(field.form), field.name, field.value])""",
        FIELDS,
    )
    return {(form, name): value for form, name, value in words}


def kept(page: Page) -> None:
    """Wait until the page says that everything typed is kept."""
    expect(page.locator("form:has(.kept)").first).to_be_visible()
    for sign in page.locator(".kept").all():
        expect(sign).to_have_text("Kept, not saved yet.")


def test_every_field_survives_a_killed_browser_and_a_killed_companion(
    tmp_path: Path, browser: Browser
) -> None:
    """On every page that has a field, a page that comes later as well: both die, and the words are there."""
    companion = Companion(tmp_path / "home", SETTINGS)
    log = companion.home.log
    before = whole_day(log, datetime.now().astimezone() - timedelta(hours=3))
    sessions = [before["live"].id, write_lesson(log, *BODIES, CLOSE, *TWO_NOTES).id]
    doomed, typed = Doomed(tmp_path / "browser"), {}
    companion.start()
    try:
        page = doomed.page(browser)
        page.goto(companion.ask(do="pages", to="/")["address"])
        base = page.url
        for path in paths_of(sessions):
            page.goto(base + path)
            if words := type_everywhere(page):
                kept(page)
                typed[path] = words
    finally:
        doomed.kill()
        companion.kill()
    assert len(typed) > 8
    companion.start()
    try:
        page = browser.new_context().new_page()
        page.goto(companion.ask(do="pages", to="/")["address"])
        base = page.url
        for path, words in typed.items():
            page.goto(base + path)
            page.wait_for_load_state("load")
            shown = words_in(page)
            assert {one: shown.get(one) for one in words} == words, path
        page.context.close()
    finally:
        companion.kill()
    assert Drafts(log).path.stat().st_mode & 0o077 == 0


def test_every_button_leaves_the_words_of_other_forms_and_the_focus(home: Home, browser: Browser) -> None:
    """On every page, by keyboard: what was typed elsewhere stays, kept and seen; the focus stays near."""
    home.settings.write_text(SETTINGS, encoding="utf-8")
    drafts, clock = Drafts(home.log), HandClock()
    clock.go_on(165 * 60)
    day = whole_day(home.log, EIGHT)
    server = PageServer(home, DayPort(home.log, clock), clock.wall).start()
    context = browser.new_context(base_url=server.base)
    page = context.new_page()
    page.add_init_script("window.print = () => {}")
    page.goto(server.address())
    with open_log(home.log) as log:
        record(log, log.session(day["review"].id), *TWO_NOTES)
    for path in paths_of([day["review"].id]):
        page.goto(path)
        typed, pressed = type_everywhere(page), ["Settle", "Settle all the same", *OTHER_LANGUAGES]
        if typed:
            kept(page)
        changed = {(form, name) for form, fields in drafts.all().items() for name in fields}
        while (button := unpressed(page, pressed)) is not None:
            sent = button.evaluate("button => draftOf(button.form)")
            if page.locator("#alert").is_visible():
                page.keyboard.press("Escape")
            button.press("Enter")
            expect(page.locator("#main:not([aria-busy=true])")).to_be_visible()
            typed = {one: words for one, words in typed.items() if one[0] != sent}
            found = drafts.all()
            lost = {one for one in typed if one[1] not in found.get(one[0], {}) and one in changed}
            assert lost == set(), (path, pressed[-1])
            if page.url.endswith(path.removeprefix("./")):
                assert page.evaluate("document.activeElement.localName") != "body", (path, pressed[-1])
            else:
                page.goto(path)
            shown = words_in(page)
            assert {one for one, words in typed.items() if shown.get(one, words) != words} == set(), path
        for form in drafts.all():
            drafts.forget(form)
    context.close()
    server.stop()


def unpressed(page: Page, pressed: list[str]) -> Locator | None:
    """Return a button with words that no button in `pressed` had, and add them there."""
    buttons = page.locator("main form[method=post] button:visible:not([aria-hidden])")
    for index, words in enumerate(
        buttons.evaluate_all("all => all.map((one) => one.firstChild.textContent)")
    ):
        if words.strip() not in pressed:
            pressed.append(words.strip())
            return buttons.nth(index)
    return None


def test_settling_takes_over_what_was_typed(page: Page, home: Home) -> None:
    """The view, the carry-over and the hands are in the log though only Settle was pressed."""
    session = write_lesson(home.log, BODIES[0], CLOSE)
    page.goto(f"reflection/{session.id}/teacher")
    page.get_by_label("Your own view").fill("a good day")
    page.get_by_label("What we say next time").fill("we close the tap")
    page.get_by_label("Hands for went well").fill("12")
    settle, undo = page.locator(".settle").bounding_box(), page.locator("#undo-last").bounding_box()
    assert settle
    assert undo
    assert undo["y"] - settle["y"] - settle["height"] > 8, "undo is pressed for settle"
    page.get_by_role("button", name="Settle", exact=True).click()
    expect(page.get_by_role("button", name="Open again")).to_be_visible()
    with open_log(home.log) as log:
        after = log.session(session.id)
    assert (after.teacher_view, after.carry_over, after.settled) == ("a good day", "we close the tap", True)
    assert after.self_rating
    assert after.self_rating.hands == (12, 0, 0)
    assert Drafts(home.log).all() == {}


def test_news_from_elsewhere_leave_what_is_being_typed(page: Page, home: Home) -> None:
    """A mark that comes in, and a second typist: the field keeps its words, its caret and the focus."""
    session = write_lesson(home.log, *BODIES, CLOSE)
    page.goto(f"review/{session.id}")
    field = page.locator("#add").get_by_label("Routine")
    field.press_sequentially("half a wo")
    with open_log(home.log) as log:
        added = ev.MarkDropped("m3")
        log.append(session.id, added, at=session.opened_at, offset_ms=session.last_ms)
    expect(page.locator("#m3")).to_contain_text("dropped")
    field.press_sequentially("rd")
    expect(field).to_be_focused()
    expect(field).to_have_value("half a word")


def test_who_types_without_a_pause_is_not_waited_for(page: Page, home: Home) -> None:
    """The first words are kept while the next ones are being typed."""
    session = write_lesson(home.log, *BODIES, CLOSE)
    page.goto(f"review/{session.id}")
    page.locator("#add").get_by_label("Routine").evaluate(
        """field => setInterval(() => {
            field.value += "a";
            field.dispatchEvent(new Event("input", { bubbles: true }));
        }, 20)"""
    )
    assert until(lambda: bool(Drafts(home.log).typed(f"{session.id}/add")))


def test_that_words_are_not_kept_is_told_until_they_are(window: BrowserContext, home: Home) -> None:
    """News that come in meanwhile change nothing about it."""
    session = write_lesson(home.log, *BODIES, CLOSE)
    page = window.new_page()
    page.goto(f"review/{session.id}")
    page.locator("#add").get_by_label("Routine").fill("half")
    sign = page.locator("#add .kept")
    expect(sign).to_have_text("Kept, not saved yet.")
    page.route("**/draft?*", lambda route: route.abort())
    page.locator("#add").get_by_label("Routine").fill("half a word")
    told = page.locator("#connection")
    expect(told).to_contain_text("What you typed is not kept yet")
    expect(sign).to_have_text("…")
    with open_log(home.log) as log:
        dropped = ev.MarkDropped("m3")
        log.append(session.id, dropped, at=session.opened_at, offset_ms=session.last_ms)
    expect(page.locator("#m3")).to_contain_text("dropped")
    expect(told).to_contain_text("What you typed is not kept yet")
    page.unroute("**/draft?*")
    expect(told).to_be_hidden()
    expect(sign).to_have_text("Kept, not saved yet.")


def test_pages_work_though_nothing_that_is_typed_can_be_kept(page: Page, home: Home) -> None:
    """They say so while it is typed; a button records the words, once."""
    session = write_lesson(home.log, *BODIES, CLOSE)
    Drafts(home.log).path.write_bytes(b"no database " * 400)
    page.goto(f"review/{session.id}")
    add = page.locator("#add")
    add.get_by_label("Why it comes late").fill("hands full")
    expect(page.locator("#connection")).to_contain_text("the disk does not take it")
    add.get_by_role("button", name="Add").click()
    expect(page.locator("#did")).to_contain_text("added")
    expect(page.locator("#alert")).to_be_hidden()
    with open_log(home.log) as log:
        assert [mark.why for mark in log.session(session.id).marks if mark.late] == ["hands full"]


class Doomed:
    """A browser of its own that is going to be killed."""

    def __init__(self, folder: Path) -> None:
        """Start it with its profile in `folder`."""
        assert ENGINE
        self._folder = folder
        self._process = subprocess.Popen(
            [
                *(ENGINE, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"),
                *("--remote-debugging-port=0", f"--user-data-dir={folder}"),
            ],
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )

    def page(self, browser: Browser) -> Page:
        """Return a page of it, steered by the means of `browser`."""
        port = self._folder / "DevToolsActivePort"
        assert until(lambda: port.exists() and port.read_text().count("\n") >= 1, limit_s=60)
        address = f"http://127.0.0.1:{port.read_text().splitlines()[0]}"
        page = browser.browser_type.connect_over_cdp(address).new_page()
        page.set_default_timeout(WAIT_MS)
        return page

    def kill(self) -> None:
        """Kill it with all its processes."""
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()


def test_what_was_typed_is_forgotten_with_its_session(home: Home) -> None:
    """None of the words is left in the file; what was typed elsewhere stays."""
    session = write_lesson(home.log)
    drafts = Drafts(home.log)
    drafts.keep(f"{session.id}/note-n16", "line", Draft("a cut finger", ""))
    drafts.keep("day/setup-school", "school.name", Draft("Alder Lane", ""))
    outcome = forget_for_good(home, whole_sessions([session.id]), SESSIONS, session.opened_at)
    assert outcome.held == []
    assert list(drafts.all()) == ["day/setup-school"]
    assert b"cut finger" not in drafts.path.read_bytes()


def test_words_over_something_that_was_saved_since_are_offered(
    page: Page, home: Home, window: BrowserContext
) -> None:
    """Neither the newer words nor those that were typed are overwritten unasked."""
    session = write_lesson(home.log, BODIES[0], CLOSE)
    page.goto(f"reflection/{session.id}/teacher")
    page.get_by_label("What we say next time").fill("we close the tap")
    kept(page)
    page.close()
    with open_log(home.log) as log:
        written = ev.CarryOverWritten("we walk")
        log.append(session.id, written, at=session.opened_at, offset_ms=session.last_ms)
    other = window.new_page()
    other.goto(f"reflection/{session.id}/teacher")
    field = other.get_by_label("What we say next time")
    expect(field).to_have_value("we walk")
    expect(other.locator(".offer")).to_contain_text("we close the tap")
    other.get_by_role("button", name="Put it in").click()
    expect(field).to_have_value("we close the tap")
