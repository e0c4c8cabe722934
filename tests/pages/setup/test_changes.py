"""The settings file as a form."""

from datetime import date
from pathlib import Path

import pytest
import tomlkit

from companion.pages.setup.changes import add_row, drop_row, fill_in, move_row
from companion.pages.setup.form import fields_in
from companion.pages.setup.week_file import begin_timetable
from companion.settings.file import NotValidError
from companion.settings.settings import parse_settings

STARTER = (Path(__file__).parents[3] / "companion" / "settings" / "starter.toml").read_text(encoding="utf-8")


@pytest.fixture
def document() -> tomlkit.TOMLDocument:
    """Return the starter configuration with a timetable of every form."""
    timetable = """
[timetable]
begins = 2026-08-31
ends = 2027-06-18
no_school = [2026-11-26, { from = 2026-12-21, to = 2027-01-01 }]   # as the district says

[timetable.hours.usual]
first = "08:30-09:15"   # right after assembly
second = "09:20-10:05"

[[timetable.lessons]]
day = ["mon", "thu"]
period = "first"
class_group = "4-은행나무"
"""
    return tomlkit.parse(STARTER + timetable)


def form(document: tomlkit.TOMLDocument) -> dict[str, str]:
    """Return the form as a browser sends it back, line ends and all."""
    return {field.place: field.value.replace("\n", "\r\n") for field in fields_in(document.unwrap())}


def checked(document: tomlkit.TOMLDocument) -> str:
    """Return the file as it would be written; the test fails where it is not valid."""
    text = tomlkit.dumps(document)
    parse_settings(text, "companion.toml")
    return text


def test_a_form_that_is_sent_back_unchanged_changes_no_byte(document: tomlkit.TOMLDocument) -> None:
    """Comments, order, spacing and quotes stay as the teacher wrote them."""
    before = tomlkit.dumps(document)
    fill_in(document, form(document))
    assert tomlkit.dumps(document) == before


@pytest.mark.parametrize(
    ("place", "value", "line"),
    [
        ("school.name", "학교 정원", 'name = "학교 정원"'),
        ("plans.0.phases.4.minutes", "17.5", "minutes = 17.5"),
        ("plans.0.phases.0.routines", "walk in\r\nbag on the hook, quietly", '"bag on the hook, quietly"]'),
        ("levels.0.least_margin", "7", "least_margin = 7"),
        ("listening.cue", "", None),
        ("timetable.ends", "2027-06-11", "ends = 2027-06-11"),
        ("timetable.hours", "usual / first = 08:45-09:30", 'first = "08:45-09:30"   # right after assembly'),
        ("timetable.no_school", "2026-11-27", "no_school = [2026-11-27]"),
        ("timetable.lessons.0.day", "tue", 'day = ["tue"]'),
        (
            "listening.learn_from_reviews",
            "yes",
            "learn_from_reviews = true # true: features are kept of phrases that you confirm in a review, "
            "and of marks that you drop.",
        ),
    ],
)
def test_a_change_is_written_where_it_belongs(
    document: tomlkit.TOMLDocument, place: str, value: str, line: str | None
) -> None:
    """Every kind of field reaches its key, next to its comment; all other lines are as they were."""
    before = tomlkit.dumps(document).splitlines()
    fill_in(document, form(document) | {place: value})
    after = checked(document)
    if line is None:
        assert "cue" not in after.replace("# Phrases: what is said after the cue", "")
    else:
        assert line in after
    kept = [one for one in before if one.startswith("#")]
    assert [one for one in after.splitlines() if one.startswith("#")] == kept


def test_rows_are_added_moved_and_taken_out(document: tomlkit.TOMLDocument) -> None:
    """A new row is valid at once, so that it can be saved and then filled in."""
    places = (
        "levels",
        "keys",
        "plans.0.phases",
        "plans",
        "phrases",
        "timetable.exceptions",
    )
    for place in (*places, *places):
        add_row(document, place)
        checked(document)
    names = [phase["name"] for phase in document["plans"][0]["phases"]]
    assert names[-2:] == ["new 9", "new 10"]
    move_row(document, "plans.0.phases.8")
    drop_row(document, "plans.0.phases.9")
    drop_row(document, "plans.0.phases.0")
    names = [phase["name"] for phase in document["plans"][0]["phases"]]
    assert names[0] == "opening"
    assert names[-2:] == ["new 9", "line up"]


def test_a_timetable_can_be_begun(document: tomlkit.TOMLDocument) -> None:
    """Its beginnings are valid and have a field for everything."""
    del document["timetable"]
    begin_timetable(document, (date(2028, 2, 29), date(2028, 6, 30)), ("A", "B"), ("08:30-09:15",))
    checked(document)
    places = {field.place for field in fields_in(document.unwrap())}
    assert {"timetable.begins", "timetable.hours", "timetable.week"} <= places


@pytest.mark.parametrize(
    ("place", "value"),
    [("plans.0.phases.0.minutes", "soon"), ("timetable.begins", "May"), ("timetable.hours", "first 8:30")],
)
def test_what_can_not_be_read_is_told(document: tomlkit.TOMLDocument, place: str, value: str) -> None:
    """The teacher reads at which field it was, and what to write."""
    with pytest.raises(NotValidError) as told:
        fill_in(document, form(document) | {place: value})
    assert [problem.place for problem in told.value.problems] == [place]


def test_every_field_has_a_name_of_its_own(document: tomlkit.TOMLDocument) -> None:
    """Two inputs of one name would overwrite each other."""
    fields = list(fields_in(document.unwrap()))
    assert len({field.place for field in fields}) == len(fields) > 100


@pytest.mark.parametrize(
    "values", [{"plans": 3}, {"plans": [{"phases": "many"}]}, {"school": []}, {"levels": [1, {"name": {}}]}]
)
def test_a_file_that_is_wrong_has_its_fields_all_the_same(values: dict[str, object]) -> None:
    """What is no table where one should be is left out; it is mended as text."""
    assert "tones.volume" in {field.place for field in fields_in(values)}
