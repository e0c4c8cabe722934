"""The reflection in a real browser."""

from playwright.sync_api import Page, expect

from companion.lesson import event as ev
from companion.lesson.session import SelfRating
from companion.log.store import open_log
from companion.paths import Home
from tests.pages.days import CLOSED, hold, kept, marked
from tests.pages.lessons import BODIES, CLOSE, write_lesson
from tests.school_day import EIGHT


def test_the_talk_is_held_and_the_count_is_settled(page: Page, home: Home) -> None:
    """Hands, the teacher's view and a picked carry-over are noted; settling asks once."""
    session = write_lesson(home.log)
    page.goto(f"reflection/{session.id}/teacher")
    for rating, hands in {"went well": "9", "so-so": "11", "needs work": "2"}.items():
        page.get_by_label(f"Hands for {rating}").fill(hands)
    page.get_by_role("button", name="Note the rating").click()
    expect(page.get_by_role("radio", name="so-so")).to_be_checked()
    page.get_by_label("Your own view of the lesson").fill("We shared the tools. 함께 했어요.")
    page.get_by_role("button", name="Note it").click()
    page.get_by_role("button", name="Before work time we practise once: kitchen voices.").click()
    expect(page.get_by_label("What we say next time")).to_have_value(
        "Before work time we practise once: kitchen voices."
    )
    page.get_by_role("button", name="Settle", exact=True).click()
    asked = page.get_by_role("alertdialog")
    expect(asked).to_contain_text("12 marks are not reviewed yet")
    asked.get_by_role("button", name="Settle all the same").click()
    expect(page.get_by_role("button", name="Open again")).to_be_visible()
    expect(page.get_by_text("Full Basket")).to_be_visible()
    with open_log(home.log) as log:
        after = log.session(session.id)
    assert after.settled
    assert after.self_rating == SelfRating("so-so", (9, 11, 2))
    assert after.teacher_view == "We shared the tools. 함께 했어요."
    page.goto("next")
    expect(page.get_by_role("region", name="4-Hazel")).to_contain_text("kitchen voices")


def test_a_late_mark_says_why_for_as_long_as_the_class_looks_at_it(page: Page, home: Home) -> None:
    """When it is told, and in its phase whatever is done then; what the class does not know is not there."""
    session = write_lesson(home.log)
    page.goto(f"review/{session.id}")
    reasons = (("my hands were full", "tools back"), ("the <hose> burst", ""))
    for marks, (why, routine) in enumerate(reasons, start=13):
        add = page.locator("form:has([name=why])")
        add.locator("[name=why]").fill(why)
        add.locator("[name=routine]").fill(routine)
        add.locator("[name=phase]").select_option("cleanup")
        add.get_by_role("button", name="Add").click()
        expect(page.locator("figure .unseen li")).to_have_count(marks)
    page.goto(f"reflection/{session.id}")
    expect(page.locator("main")).not_to_contain_text("added afterwards")
    page.get_by_role("button", name="Tell", exact=True).click()
    expect(page.locator("#telling")).to_contain_text(
        "tools back added afterwards, because my hands were full"
    )
    page.get_by_role("radio", name="so-so").check()
    page.get_by_role("button", name="Note the rating").click()
    expect(page.locator("#telling")).to_have_count(0)
    phase = page.locator(".steps li", has=page.get_by_role("heading", name="cleanup"))
    expect(phase).to_contain_text("tools back: added afterwards, because my hands were full")
    expect(phase).to_contain_text("added afterwards, because the <hose> burst")


def test_what_goes_home_or_that_none_is_left_is_told_before_settling(page: Page, home: Home) -> None:
    """On both sides; afterwards the page says what went home."""
    with open_log(home.log) as log:
        first, second = (
            hold(log, group, EIGHT, *marked(4), *kept(4), CLOSED).id for group in ("4-Hazel", "2-Birch")
        )
    page.goto(f"reflection/{first}")
    expect(page.locator(".award")).to_have_text("the brass can goes home with it.")
    page.get_by_role("button", name="Settle", exact=True).click()
    expect(page.get_by_text("We take home")).to_be_visible()
    expect(page.locator(".award")).to_have_text("the brass can goes home with it.")
    for side in ("", "/projector", "/teacher"):
        page.goto(f"reflection/{second}{side}")
        expect(page.locator(".award")).to_have_text("None left of the brass can: still with 4-Hazel.")


def test_another_recognition_needs_a_reason_and_a_settled_session_opens_again_with_one(
    page: Page, home: Home
) -> None:
    """The teacher can always overrule; the log says that and why."""
    session = write_lesson(home.log, BODIES[0], CLOSE)
    page.goto(f"reflection/{session.id}/teacher")
    page.get_by_text("Decide another recognition").click()
    page.get_by_label("Recognition").select_option("Half Basket")
    page.get_by_role("button", name="Decide").click()
    expect(page.locator(".level")).to_have_text("no recognition today")
    page.locator("form", has_text="Decide").get_by_label("Why").fill("the fire drill took half of it")
    page.get_by_role("button", name="Decide").click()
    expect(page.locator(".level")).to_have_text("Half Basket")
    page.get_by_role("button", name="Settle", exact=True).click()
    page.get_by_label("Open again, because").fill("one table was forgotten")
    page.get_by_role("button", name="Open again").click()
    expect(page.get_by_role("button", name="Settle", exact=True)).to_be_visible()
    with open_log(home.log) as log:
        after = log.session(session.id)
    assert after.overruled
    assert after.overruled.reason == "the fire drill took half of it"
    assert after.reopened_for == ("one table was forgotten",)


def test_the_buttons_work_without_the_script(home: Home, window_without_script: Page) -> None:
    """A browser that runs no script loses comfort, not function."""
    session, page = write_lesson(home.log), window_without_script
    page.goto(f"review/{session.id}")
    page.locator("#m14").get_by_role("button", name="Drop").click()
    expect(page.locator("#m14")).to_contain_text("dropped")
    page.goto(f"reflection/{session.id}")
    page.get_by_role("radio", name="went well").check()
    page.get_by_role("button", name="Note the rating").click()
    expect(page.get_by_role("radio", name="went well")).to_be_checked()


def test_a_childs_code_in_words_for_the_class_is_asked_about_before_it_is_kept(
    page: Page, home: Home
) -> None:
    """Nothing is recorded before the answer; the words can be written without it, or stay."""
    session = write_lesson(home.log, BODIES[0], CLOSE)
    page.goto(f"reflection/{session.id}/teacher")
    page.get_by_label("What we say next time").fill("Ask K. T. for the spade.")
    page.get_by_role("button", name="Carry over").click()
    question = page.get_by_role("alertdialog")
    expect(question).to_contain_text("K. T. may stand for a child")
    with open_log(home.log) as log:
        assert log.session(session.id).carry_over == ""
        question.get_by_label("What we say next time").fill("Ask for the spade.")
        log.append(session.id, ev.TeacherViewed("Windy."), at=session.opened_at, offset_ms=session.last_ms)
    expect(page.locator("#undo-last")).to_contain_text("Done last: the teacher's view")
    expect(page.locator("h1 + #ask")).to_be_visible()
    question.get_by_role("button", name="Keep what stands here now").click()
    expect(question).to_have_count(0)
    with open_log(home.log) as log:
        assert log.session(session.id).carry_over == "Ask for the spade."
    page.get_by_label("Your own view of the lesson").fill("Seat 12 led us.")
    page.get_by_role("button", name="Note it").click()
    question.get_by_role("button", name="Keep it as it was").click()
    expect(question).to_have_count(0)
    with open_log(home.log) as log:
        assert log.session(session.id).teacher_view == "Seat 12 led us."


def test_the_reflection_is_held_by_a_clicker_alone(page: Page, home: Home) -> None:
    """Back chooses the rating, forward notes it and settles, each with a look before; a question, too."""
    session = write_lesson(home.log)
    page.goto(f"reflection/{session.id}")
    for _ in range(2):
        page.keyboard.press("PageUp")
    expect(page.get_by_role("radio", name="so-so")).to_be_checked()
    page.keyboard.press("PageDown")
    expect(page.locator("form.rate .kept")).to_have_count(0)
    expect(page.locator("#main:not([aria-busy=true])")).to_be_visible()
    settle = page.get_by_role("button", name="Settle", exact=True)
    page.keyboard.press("PageDown")
    expect(settle).to_be_focused()
    page.keyboard.press("PageDown")
    expect(page.get_by_role("alertdialog")).to_contain_text("12 marks are not reviewed yet")
    sure = page.get_by_role("button", name="Settle all the same")
    page.keyboard.press("PageDown")
    expect(sure).to_be_focused()
    page.keyboard.press("PageDown")
    expect(page.get_by_text("We take home")).to_be_visible()
    with open_log(home.log) as log:
        after = log.session(session.id)
    assert (after.settled, after.self_rating) == (True, SelfRating("so-so"))
