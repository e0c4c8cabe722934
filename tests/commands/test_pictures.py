"""`companion pictures`: listed, put and taken away."""

from pathlib import Path

import pytest
from PIL import Image

from companion.lesson import event as ev
from companion.paths import Home
from companion.settings.pictures import Pictures, of_carry_over, of_routine
from tests.commands.conftest import Run
from tests.pages.lessons import BODIES, CLOSE, write_lesson

SETTINGS = """
[[plans]]
name = "garden lesson"
phases = [{ name = "cleanup", minutes = 7, routines = ["tools back"] }]
"""


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    """Return a photo."""
    Image.new("RGB", (800, 600), "darkgreen").save(tmp_path / "rack.jpg")
    return tmp_path / "rack.jpg"


def test_a_picture_is_put_listed_and_taken_away(call: Run, tmp_path: Path, photo: Path) -> None:
    """For a routine by its line of the list, for a carry-over by its class group."""
    home = Home(tmp_path / "home").create()
    home.settings.write_text(SETTINGS, encoding="utf-8")
    carry_over = ev.CarryOverWritten("Tools by the handle.")
    session = write_lesson(home.log, *BODIES, CLOSE, carry_over)
    call("pictures", "put", str(photo), "4-hazel", "--no-child")
    said = call("pictures", "put", str(photo), "cleanup: tools back", "--no-child").stdout
    assert said == "The class sees it with cleanup: tools back.\n"
    for what in (of_carry_over(session.id), of_routine("cleanup", "tools back")):
        assert Pictures(home.pictures).name_of(what)
    assert "  cleanup: tools back  (has a picture)\n" in call("pictures").stdout
    assert "is deleted" in call("pictures", "take-away", "cleanup: tools back").stdout
    assert "  cleanup: tools back\n" in call("pictures").stdout


def test_what_can_not_be_a_picture_is_told(call: Run, tmp_path: Path, photo: Path) -> None:
    """A child in it, no picture at all, no such file or place: nothing is kept."""
    home = Home(tmp_path / "home").create()
    home.settings.write_text(SETTINGS, encoding="utf-8")
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear all")
    for words, said in (
        ((str(photo), "cleanup: tools back"), "It was not said whether a child can be seen"),
        ((str(letter), "cleanup: tools back", "--no-child"), "no picture that can be read"),
        ((str(tmp_path / "no.jpg"), "cleanup: tools back", "--no-child"), "can't be read"),
        ((str(photo), "the attic", "--no-child"), "There is no place 'the attic'"),
    ):
        assert said in call("pictures", "put", *words, code=2).stderr
    assert Pictures(home.pictures).name_of(of_routine("cleanup", "tools back")) == ""
