"""`companion sheet` as it is called, and the sheets as a browser shows them."""

import io
from datetime import datetime, timedelta
from pathlib import Path

from click.testing import CliRunner, Result
from PIL import Image
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from companion.cli import cli
from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.log.store import open_log
from companion.settings.pictures import Pictures, of_routine
from tests.lesson.builders import OPENED

NOW = datetime.now().astimezone()
SETTINGS = f"""
[school]
name = "Alder Lane School"
room = "Garden room"

[listening]
cue = "velvet compass"

[[plans]]
name = "garden lesson"
phases = [
  {{ name = "arrival", minutes = 3, routines = ["boots at the door"] }},
  {{ name = "work time", minutes = 20, routines = ["one trowel, two turns", "kitchen voices"] }},
]

[[phrases]]
say = "well grown"
does = "praise"

[[phrases]]
say = "table {{table}} well grown"
does = "praise"

[[phrases]]
say = "spades down"
does = "phase"
phase = "work time"

[[keys]]
press = "ctrl+alt+p"
does = "praise"

[timetable]
begins = {NOW.date() - timedelta(days=30)}
ends = {NOW.date() + timedelta(days=30)}
rotation = ["A"]

[timetable.hours.usual]
1 = "08:30-09:15"

[[timetable.lessons]]
day = "A"
period = "1"
class_group = "4-Hazel"

[[timetable.exceptions]]
date = {NOW.date()}
day = "A"
"""


def home(tmp_path: Path) -> Path:
    """Return a home with a lesson of 4-Hazel in which something was left to say, and <odd> names."""
    (tmp_path / "companion.toml").write_text(SETTINGS, encoding="utf-8")
    with open_log(tmp_path / "sessions.db") as log:
        session = log.open_session(OPENED, NOW - timedelta(days=7))
        for body in (ev.SessionClosed(9, Source.KEY), ev.CarryOverWritten("Close the tap & <smile>.")):
            log.append(session.id, body, at=NOW - timedelta(days=7), offset_ms=9)
    return tmp_path


def run(folder: Path, *arguments: str) -> Result:
    """Run the command on `folder`."""
    return CliRunner().invoke(cli, ["--home", str(folder), "sheet", *arguments])


def shown(browser: Browser, file: Path) -> tuple[str, int]:
    """Return what a browser shows of a file, and how many sheets of paper it takes."""
    page: Page = browser.new_page()
    page.goto(file.as_uri())
    page.pdf(path=file.with_suffix(".pdf"), format="Letter")
    text = page.locator("body").inner_text()
    page.close()
    return text, len(PdfReader(file.with_suffix(".pdf")).pages)


def test_a_guest_finds_the_day_on_one_sheet(tmp_path: Path, browser: Browser) -> None:
    """Plan, routines, phrases, keys, the classes with what is left to say, and what never to write down."""
    file = tmp_path / "guest.html"
    done = run(home(tmp_path), str(file))
    assert done.exit_code == 0, done.output
    text, sheets = shown(browser, file)
    assert sheets == 1
    for words in (
        "08:30 to 09:15",
        "4-Hazel",
        "Close the tap & <smile>.",
        "kitchen voices",
        "velvet compass",
        "spades down: the lesson goes on to work time",
        "ctrl+alt+p: praise",
        "table … well grown: praise for the table of that name",
        "Never write down",
        "initials or the number of the seat",
    ):
        assert words in text


def test_the_wall_has_routines_and_no_phrase(tmp_path: Path, browser: Browser) -> None:
    """What the companion listens for is not for the class to say."""
    file = tmp_path / "wall.html"
    assert run(home(tmp_path), str(file), "--wall").exit_code == 0
    text, sheets = shown(browser, file)
    assert sheets == 1
    assert "boots at the door" in text
    for phrase in ("velvet compass", "well grown", "spades down", "ctrl"):
        assert phrase not in text


def test_the_wall_has_the_pictures_of_routines(tmp_path: Path, browser: Browser) -> None:
    """They are in the page itself, which may be carried to another computer."""
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "green").save(picture, "PNG")
    shelf = Pictures(home(tmp_path) / "pictures")
    shelf.put(of_routine("arrival", "boots at the door"), picture.getvalue(), child_seen=False)
    file = tmp_path / "wall.html"
    assert run(tmp_path, str(file), "--wall").exit_code == 0
    page = browser.new_page()
    page.goto(file.as_uri())
    image = page.get_by_role("img", name="boots at the door")
    assert image.evaluate("image => image.complete && image.naturalWidth") == 40
    assert page.get_by_role("img").count() == 1
    page.close()


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    """Nothing is overwritten."""
    file = tmp_path / "mine.html"
    file.write_text("mine")
    done = run(home(tmp_path), str(file))
    assert done.exit_code != 0
    assert file.read_text() == "mine"
