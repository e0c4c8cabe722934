"""Pictures for routines and carry-overs, in a real browser with real files."""

import base64
import io
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from companion.lesson.event import CarryOverWritten
from companion.paths import Home
from companion.settings.pictures import MOST_BYTES, Pictures, of_carry_over, of_routine
from tests.pages.lessons import BODIES, CLOSE, write_lesson

SETTINGS = """
[[plans]]
name = "garden lesson"
phases = [{ name = "cleanup", minutes = 7, routines = ["tools back"] }]
"""


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """Return a photo of a tool rack."""
    file = io.BytesIO()
    Image.new("RGB", (2000, 1500), "darkgreen").save(file, "JPEG")
    path = tmp_path / "rack.jpg"
    path.write_bytes(file.getvalue())
    return path


def test_a_photo_is_dropped_shown_and_taken_away(page: Page, home: Home, photo: Path) -> None:
    """For a routine; it comes back small."""
    home.settings.write_text(SETTINGS, encoding="utf-8")
    page.goto("pictures")
    place = page.get_by_role("listitem").filter(has_text="cleanup: tools back")
    place.get_by_text("Add a picture").click()
    place.get_by_label("Choose a file").set_input_files(photo)
    place.get_by_label("No", exact=True).check()
    place.get_by_role("button", name="Keep it").click()
    image = place.get_by_role("img", name="Picture for cleanup: tools back")
    expect(image).to_be_visible()
    page.wait_for_function("document.querySelector('.shelves img').naturalWidth === 1600")
    assert Pictures(home.pictures).name_of(of_routine("cleanup", "tools back"))
    place.get_by_role("button", name="Take away").click()
    expect(image).to_have_count(0)


def test_a_picture_with_a_child_and_a_wrong_file_are_refused_in_plain_words(
    page: Page, home: Home, photo: Path, tmp_path: Path
) -> None:
    """The caution is read before and after; nothing is kept."""
    session = write_lesson(home.log, *BODIES, CLOSE, CarryOverWritten("Tools by the handle."))
    home.settings.write_text(SETTINGS, encoding="utf-8")
    wrong = tmp_path / "letter.txt"
    wrong.write_text("Dear all")
    for file, child, said in (
        (photo, "Yes", "policy and local law to say. Nothing was kept. Take one without children."),
        (wrong, "No", "no picture that can be"),
    ):
        page.goto("pictures")
        expect(page.locator(".notice")).to_contain_text("A picture in which a child can be seen is not taken")
        place = page.get_by_role("listitem").filter(has_text="4-Hazel: Tools by the handle.")
        place.get_by_text("Add a picture").click()
        place.get_by_label("Choose a file").set_input_files(file)
        place.get_by_label(child, exact=True).check()
        place.get_by_role("button", name="Keep it").click()
        expect(page.get_by_role("alert")).to_contain_text(said)
    assert Pictures(home.pictures).name_of(of_carry_over(session.id)) == ""


DROP = """(place, bytes) => {
    const files = new DataTransfer();
    files.items.add(new File([Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0))], "rack.jpg"));
    const event = new DragEvent("drop", { bubbles: true, cancelable: true, dataTransfer: files });
    place.dispatchEvent(event);
    return event.defaultPrevented;
}"""


def test_a_photo_is_dropped_on_the_place_that_it_is_of(page: Page, home: Home, photo: Path) -> None:
    """The page is reached from the carry-over; beside a place a drop is told and never leaves the page."""
    session = write_lesson(home.log, *BODIES, CLOSE, CarryOverWritten("Tools by the handle."))
    home.settings.write_text(SETTINGS, encoding="utf-8")
    bytes64 = base64.b64encode(photo.read_bytes()).decode()
    page.goto("next")
    page.get_by_role("link", name="Add a picture for Tools by the handle.").click()
    place = page.locator(f"#carry-over-{session.id}")
    expect(place.get_by_role("button", name="Keep it")).to_be_visible()
    assert page.locator("h1").evaluate(DROP, bytes64)
    expect(page.get_by_role("alert")).to_contain_text("Drop the picture on the place that it is of")
    assert place.evaluate(DROP, bytes64)
    expect(page.get_by_role("alert")).to_be_hidden()
    expect(place.get_by_label("No", exact=True)).to_be_focused()
    page.keyboard.press("Space")
    place.get_by_role("button", name="Keep it").click()
    expect(place.get_by_role("img")).to_be_visible()
    assert Pictures(home.pictures).name_of(of_carry_over(session.id))
    page.get_by_role("link", name="Next time").click()
    expect(page.get_by_role("link", name="Its picture for Tools by the handle.")).to_be_visible()


def test_a_file_that_is_too_large_is_told_before_it_is_sent(page: Page, home: Home, tmp_path: Path) -> None:
    """In the same words as in the terminal."""
    home.settings.write_text(SETTINGS, encoding="utf-8")
    huge = tmp_path / "huge.jpg"
    with huge.open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    page.goto("pictures")
    page.get_by_text("Add a picture for cleanup: tools back").click()
    field = page.get_by_label("Choose a file").last
    field.set_input_files(huge)
    expect(page.get_by_role("alert")).to_contain_text("larger than 30 MB")
    expect(field).to_have_value("")
