"""Words that were typed are never lost, whatever is pressed, closed or killed."""

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from companion.lesson import event as ev
from companion.lesson.mark import NoteKind, Source
from companion.live.forgetting import forget_for_good
from companion.log.drafts import Draft, Drafts
from companion.log.forget import SESSIONS, whole_sessions
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.conftest import CHROMIUM
from tests.pages.lessons import BODIES, CLOSE, at, write_lesson
from tests.waiting import until

PAGES = (
    "private/{}",
    "reflection/{}/teacher",
    "reflection/{}",
    "review/{}",
    "class/{}",
    "setup/plans",
    "setup/more",
)
"""Every page with a field that needs no running companion."""
FIELDS = "main form[method=post] :is(input:not([type=hidden]), textarea, select)"
SETTINGS = """
[school]
name = "Alder Lane School"

[[plans]]
name = "kitchen"
phases = [{ name = "aprons", minutes = 5 }]
"""
TWO_NOTES = (
    ev.NoteOpened(NoteKind.OTHER, at(43), Source.KEY),
    ev.NoteOpened(NoteKind.TIME_OUT, at(43), Source.KEY),
)


def type_everywhere(page: Page) -> dict[str, str]:
    """Put something of its own into every field of a page; return it by the field's form and name."""
    page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    typed = {}
    for index, field in enumerate(page.locator(FIELDS).all()):
        kind = field.evaluate("field => field.type")
        if kind == "select-one":
            last = field.evaluate("field => field.options.length - 1")
            field.select_option(index=0 if field.evaluate("field => field.selectedIndex") == last else last)
        elif kind == "radio":
            field.check()
        elif kind == "date":
            field.fill("2031-02-03")
        else:
            field.fill(str(index % 90) if field.get_attribute("inputmode") else f"words {index}")
        typed[name_of(field)] = field.input_value()
    return typed


def name_of(field: Locator) -> str:
    """Return the names of a field's form and of the field."""
    return str(field.evaluate("field => `${field.form.elements.draft.value} ${field.name}`"))


def words_in(page: Page) -> dict[str, str]:
    """Return what stands in every field of a page; of a choice, what is chosen."""
    words: dict[str, str] = page.evaluate(
        """fields => Object.fromEntries([...document.querySelectorAll(fields)]
            .filter((field) => field.type !== "radio" || field.checked)
            .map((field) => [`${field.form.elements.draft.value} ${field.name}`, field.value]))""",
        FIELDS,
    )
    return words


def kept(page: Page) -> None:
    """Wait until the page says that everything typed is kept."""
    expect(page.locator("form:has(.kept)").first).to_be_visible()
    for sign in page.locator(".kept").all():
        expect(sign).to_have_text("Kept, not saved yet.")


@pytest.mark.parametrize("path", PAGES)
def test_every_field_survives_a_closed_window(home: Home, window: BrowserContext, path: str) -> None:
    """Whatever was typed in any field of any page stands there again when it is opened anew."""
    home.settings.write_text(SETTINGS, encoding="utf-8")
    session = write_lesson(home.log, *BODIES, CLOSE, *TWO_NOTES)
    page = window.new_page()
    page.goto(path.format(session.id))
    typed = type_everywhere(page)
    assert typed
    kept(page)
    page.close()
    other = window.new_page()
    other.goto(path.format(session.id))
    expect(other.locator("form:has(.kept)").first).to_be_visible()
    assert words_in(other) == typed


def test_every_button_leaves_the_words_of_other_forms(page: Page, home: Home) -> None:
    """The two private notes, the view, the carry-over and the hands: saving one blanks none."""
    session = write_lesson(home.log, *BODIES, CLOSE, *TWO_NOTES)
    for path in ("private/{}", "reflection/{}/teacher", "review/{}"):
        page.goto(path.format(session.id))
        typed = type_everywhere(page)
        pressed = ["Settle", "Throw this note away"]
        while (button := unpressed(page, pressed)) is not None:
            sent = button.evaluate("button => button.form.elements.draft?.value || ''")
            button.click()
            expect(page.locator("#main:not([aria-busy=true])")).to_be_visible()
            typed = {name: words for name, words in typed.items() if not name.startswith(f"{sent} ")}
            after = words_in(page)
            lost = {name for name, words in typed.items() if after.get(name, words) != words}
            assert lost == set(), (path, pressed[-1])


def unpressed(page: Page, pressed: list[str]) -> Locator | None:
    """Return a button with words that no button in `pressed` had, and add them there."""
    buttons = page.locator("main form[method=post] button:visible")
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


def test_words_survive_a_killed_browser_and_a_killed_companion(
    home: Home, browser: Browser, tmp_path: Path
) -> None:
    """Both die without a goodbye; the words stand in the field when they are back."""
    session = write_lesson(home.log, *BODIES, CLOSE, *TWO_NOTES)
    line = "bumped heads at the tap, both are fine"
    for first in (True, False):
        companion, address = serve(home)
        assert CHROMIUM
        doomed = subprocess.Popen(
            [
                *(CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"),
                *("--remote-debugging-port=0", f"--user-data-dir={tmp_path / str(first)}"),
            ],
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        try:
            page = browser.browser_type.connect_over_cdp(debugged(tmp_path / str(first))).new_page()
            page.goto(address)
            page.goto(f"{page.url.rstrip('/')}/private/{session.id}")
            field = page.get_by_label("What happened, in a line").first
            if first:
                field.fill(line)
                kept(page)
            else:
                expect(field).to_have_value(line)
        finally:
            os.killpg(doomed.pid, signal.SIGKILL)
            companion.kill()
            doomed.wait()
            companion.communicate()
    assert Drafts(home.log).path.stat().st_mode & 0o077 == 0


def serve(home: Home) -> tuple[subprocess.Popen[str], str]:
    """Start `companion pages` and return it with the address that it tells."""
    command = [sys.executable, "-m", "companion", "--home", str(home.folder), "pages"]
    companion = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert companion.stdout
    for words in companion.stdout:
        if found := re.search(r"http://\S+", words):
            return companion, found[0]
    raise AssertionError("the pages were not served")


def debugged(folder: Path) -> str:
    """Return where a browser that was just started can be steered."""
    port = folder / "DevToolsActivePort"
    assert until(lambda: port.exists() and port.read_text().count("\n") >= 1, limit_s=60)
    return f"http://127.0.0.1:{port.read_text().splitlines()[0]}"


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
