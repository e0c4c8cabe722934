"""What the class may see: nothing private is ever shown to it by a step, or without being asked for."""

import pytest
from playwright.sync_api import Page, expect

from companion.lesson import event as ev
from companion.paths import Home
from tests.pages.lessons import BODIES, CLOSE, NOTE, write_lesson
from tests.pages.routes import paths_of

AUDIENCE = "document.body.dataset.audience"
FOR_THE_CLASS = ("live/{}/projector", "reflection/{}", "reflection/{}/projector")
PRIVATE = ("private/{}", "note/{}", "reflection/{}/teacher", "./")
ENDS: tuple[tuple[ev.Body, ...], ...] = ((), (CLOSE,), (CLOSE, ev.SessionSettled()))
"""A lesson that goes on, one that waits for its review, and a settled one."""


def fill_in(page: Page, form: int) -> None:
    """Fill in every field of a form of the page."""
    fields = page.locator("main form").nth(form).locator("input:not([type=hidden])")
    for index in range(fields.count()):
        field = fields.nth(index)
        if field.get_attribute("type") == "radio":
            field.check()
        else:
            field.fill("7")


@pytest.mark.parametrize("end", ENDS, ids=["going on", "closed", "settled"])
def test_no_step_on_a_page_for_the_class_leads_away_from_it(
    page: Page, home: Home, end: tuple[ev.Body, ...]
) -> None:
    """Whatever button is pressed there, and what it asks in turn: the class sees a page of its own."""
    for path in FOR_THE_CLASS:
        pressed = press_every_button(page, path.format(write_lesson(home.log, *BODIES, NOTE, *end).id))
        nothing_to_press = path.endswith("projector") or ev.SessionSettled() in end
        assert bool(pressed) is not nothing_to_press


def press_every_button(page: Page, address: str) -> list[str]:
    """Press each button of a page for the class, also those that come up, and return their names."""
    page.goto(address)
    assert page.evaluate(AUDIENCE) == "class"
    pressed: list[str] = []
    while True:
        buttons = page.locator("main form button")
        left = [i for i, words in enumerate(buttons.all_inner_texts()) if words not in pressed]
        if not left:
            break
        pressed.append(buttons.nth(left[0]).inner_text())
        fill_in(page, left[0])
        with page.expect_response(lambda answer: answer.request.method == "POST"):
            buttons.nth(left[0]).click()
        expect(page.locator("#main:not([aria-busy=true])")).to_be_visible()
        expect(page.locator("#alert")).to_be_hidden()
        assert page.url.endswith(address)
        assert page.evaluate(AUDIENCE) == "class"
        for word in ("K. T.", "cut finger", "health office"):
            assert word not in page.content()
    return pressed


def test_a_private_page_asks_first_in_a_window_that_the_class_has_seen(page: Page, home: Home) -> None:
    """Nothing of it is seen until the teacher says so, once; a window of the teacher's own just opens it."""
    session = write_lesson(home.log, *BODIES, NOTE, CLOSE).id
    for path in PRIVATE:
        private, head = path.format(session), page.locator("main h1").first
        page.goto(private)
        expect(head).to_be_visible()
        page.goto(f"live/{session}/projector")
        page.goto(private)
        expect(page.get_by_role("alertdialog")).to_contain_text("Not for the projector")
        expect(head).to_be_hidden()
        expect(page.get_by_role("button", name="Show it here")).to_be_focused()
        page.keyboard.press("Enter")
        expect(head).to_be_visible()
        page.reload()
        expect(head).to_be_visible()


def test_back_leads_a_window_of_the_class_to_its_own_page_again(page: Page, home: Home) -> None:
    """A private page that was opened there by mistake is left unseen."""
    session = write_lesson(home.log, *BODIES, NOTE, CLOSE).id
    page.goto(f"reflection/{session}")
    page.get_by_role("link", name="Teacher’s side").click()
    expect(page.get_by_role("alertdialog")).to_be_visible()
    page.get_by_role("button", name="Back").click()
    expect(page.get_by_text("How did our lesson go?")).to_be_visible()


def test_every_page_says_for_whom_it_is(page: Page, home: Home) -> None:
    """A page that shows children is private; no page is without an audience."""
    home.settings.write_text('[[plans]]\nname = "kitchen"\nphases = [{ name = "aprons", minutes = 5 }]\n')
    session = write_lesson(home.log, *BODIES, NOTE, CLOSE).id
    for path in paths_of([session]):
        page.goto(path)
        audience = page.evaluate(AUDIENCE)
        assert audience in ("class", "teacher", "private"), path
        known = path in {"between", *(one.format(session) for one in FOR_THE_CLASS)}
        assert (audience == "class") is known, f"{path}: every step on it has to be tried here"
        assert ("K. T." in page.content()) <= (audience == "private"), path
