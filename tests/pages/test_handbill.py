"""`companion sheet` as it is called, and the sheets as a browser shows them."""

import io
import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from PIL import Image
from playwright.sync_api import Browser, Page
from pypdf import PdfReader

from companion import settings
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


STARTER = (Path(settings.__file__).parent / "starter.toml").read_text(encoding="utf-8")
TIMETABLE = """
[timetable]
begins = {day}
ends = {day}
rotation = ["A"]
week = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]

[timetable.hours.usual]
{hours}
{lessons}
"""
LESSON = """
[[timetable.lessons]]
day = "A"
period = "{period}"
class_group = "{period}-Oak"
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


ROUTINE = "{} stand ready at the gate with both hands to yourself"
MANY = """
[[plans]]
name = "kitchen"
phases = [{phases}]
"""


@pytest.mark.parametrize("with_pictures", [False, True])
def test_many_routines_are_one_sheet_a_plan(tmp_path: Path, browser: Browser, *, with_pictures: bool) -> None:
    """The plan that comes with the companion, and one with five long routines a phase."""
    names = [[ROUTINE.format(f"{phase} {at}") for at in range(5)] for phase in range(6)]
    phases = ",".join(
        f'{{ name = "phase {at}", minutes = 5, routines = {json.dumps(routines)} }}'
        for at, routines in enumerate(names)
    )
    (tmp_path / "companion.toml").write_text(STARTER + MANY.format(phases=phases), encoding="utf-8")
    if with_pictures:
        shelf, picture = Pictures(tmp_path / "pictures"), io.BytesIO()
        Image.new("RGB", (400, 600), "green").save(picture, "PNG")
        for at, routine in enumerate(routine for same in names for routine in same[:3]):
            shelf.put(of_routine(f"phase {at // 3}", routine), picture.getvalue(), child_seen=False)
    file = tmp_path / "wall.html"
    assert run(tmp_path, str(file), "--wall").exit_code == 0
    text, sheets = shown(browser, file)
    assert sheets == 2, "one for each plan"
    assert text.count("stand ready at the gate") == 1 + 30


def test_what_comes_with_the_companion_is_one_sheet_for_a_guest(tmp_path: Path, browser: Browser) -> None:
    """Eight phases, sixteen phrases and eight classes, each with something left to say."""
    lessons = "".join(LESSON.format(period=at) for at in range(1, 9))
    hours = "\n".join(f'{at} = "{at + 7:02}:00-{at + 7:02}:45"' for at in range(1, 9))
    week = TIMETABLE.format(day=NOW.date(), hours=hours, lessons=lessons)
    (tmp_path / "companion.toml").write_text(STARTER + week, encoding="utf-8")
    with open_log(tmp_path / "sessions.db") as log:
        for at in range(1, 9):
            session = log.open_session(replace(OPENED, class_group=f"{at}-Oak"), NOW - timedelta(days=7))
            left = "Put the trowels back where they were, and thank the table that dried them."
            for body in (ev.SessionClosed(9, Source.KEY), ev.CarryOverWritten(left)):
                log.append(session.id, body, at=NOW - timedelta(days=7), offset_ms=9)
    file = tmp_path / "guest.html"
    assert run(tmp_path, str(file)).exit_code == 0
    text, sheets = shown(browser, file)
    assert sheets == 1
    assert text.count("Put the trowels back") == 8
    assert "a judgement about a child" in text


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    """Nothing is overwritten."""
    file = tmp_path / "mine.html"
    file.write_text("mine")
    done = run(home(tmp_path), str(file))
    assert done.exit_code != 0
    assert file.read_text() == "mine"
