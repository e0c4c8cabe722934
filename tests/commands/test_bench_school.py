"""`companion bench-school` as it is called."""

from tests.commands.conftest import Run


def test_rooms_are_made_gathered_and_asked(call: Run) -> None:
    """A line a number of rooms, from their week files to the answers."""
    lines = call("bench-school", "--rooms", "4", "--week-files").stdout.splitlines()
    assert len(lines) == 2
    rooms, lessons, marks = lines[1].split()[:3]
    assert (rooms, lessons) == ("4", "5,040")
    assert int(marks.replace(",", "")) > 50_000
    assert "as in 5,50" in call("bench-school", "--rooms", "many", code=2).stderr
