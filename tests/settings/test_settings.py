"""`companion.toml`: what is taken, and how each mistake is told."""

from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.lesson.command import Action, Command
from companion.lesson.mark import NoteKind
from companion.lesson.plan import Advance
from companion.settings.settings import Settings, load_settings, parse_settings

STARTER = files("companion.settings").joinpath("starter.toml").read_text(encoding="utf-8")
PLAN = '[[plans]]\nname = "p"\n[[plans.phases]]\nname = "arrival"\nminutes = 3\n'
TERM = """
[timetable]
begins = 2026-08-24
ends = 2027-06-11
hours.usual = { 1 = "08:30-09:15" }
"""


def _error(text: str) -> str:
    with pytest.raises(CompanionError) as raised:
        parse_settings(text, "companion.toml")
    return str(raised.value)


def _outcome(text: str) -> bool:
    """Return whether `text` gave settings or one error that names the file; anything else is raised."""
    try:
        return isinstance(parse_settings(text, "companion.toml"), Settings)
    except CompanionError as error:
        return str(error).startswith("companion.toml")


def test_the_starter_configuration_is_valid() -> None:
    """Every phrase of it does something, and phrases that name a table are said for each table."""
    settings = parse_settings(STARTER, "starter.toml")
    commands = settings.commands
    assert commands["praise"] == Command(Action.PRAISE)
    assert commands["table four reminder"] == Command(Action.REMINDER, scope="table four")
    assert commands["note time out"].note is NoteKind.TIME_OUT
    assert settings.plan().phases[0].advance == (Advance.CLOCK, Advance.PHRASE)
    assert [level.least_margin for level in settings.levels_table()] == [5, 2, 0]
    assert settings.vocabulary(settings.plan()).cue == "velvet compass"


def test_settings_with_a_kind_of_note_that_was_named_anew_still_read() -> None:
    """A phrase and a key that note "left early" note what is called "went home sooner" now."""
    note = 'does = "note"\nnote = "left early"\n'
    old = parse_settings(
        f'{PLAN}[[phrases]]\nsay = "note left early"\n{note}[[keys]]\npress = "f9"\n{note}', "x"
    )
    assert old.commands["note left early"].note is NoteKind.WENT_HOME_SOONER
    assert [key.note for key in old.keys] == [NoteKind.WENT_HOME_SOONER]


def test_phrases_for_phases_of_another_plan_are_not_listened_for() -> None:
    """A vocabulary holds only what makes sense in its lesson."""
    settings = parse_settings(
        PLAN
        + '[[plans]]\nname = "q"\n[[plans.phases]]\nname = "cleanup"\nminutes = 3\n'
        + '[[phrases]]\nsay = "Cleanup"\ndoes = "phase"\nphase = "cleanup"\n',
        "x",
    )
    assert settings.vocabulary(settings.plan("p")).phrases == ()
    assert settings.vocabulary(settings.plan("q")).phrases == ("cleanup",)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "companion.toml: plans: this key is missing; add it"),
        ("plans = []", "there is no plan"),
        ('[[plans]]\nname = "p"', "the plan 'p' has no phases; add at least one"),
        (PLAN + '[[plans.phases]]\nname = "Arrival"\nminutes = 2', "two phases called 'Arrival'; rename"),
        (PLAN.replace("3", "-3"), "companion.toml: plans[1].phases[1].minutes = -3: "),
        (PLAN.replace("3", '"three"'), "plans[1].phases[1].minutes = 'three': "),
        (PLAN + 'colour = "red"', "plans[1].phases[1].colour = 'red': this key is not known"),
        (PLAN + '[[phrases]]\nsay = "x"\ndoes = "dance"', "phrases[1].does = 'dance'"),
        (
            PLAN + '[[phrases]]\nsay = "🎉"\ndoes = "praise"',
            "phrases[1].say: '🎉' can't be said; write it in",
        ),
        (PLAN + '[[phrases]]\nsay = " !!! "\ndoes = "praise"', "phrases[1].say: '!!!' can't be said"),
        (PLAN + '[[phrases]]\nsay = ""\ndoes = "praise"', "phrases[1].say = '': it is empty; write"),
        (PLAN + '[listening]\ncue = "…"', "listening.cue: '…' can't be said; write it in words"),
        (PLAN + '[[phrases]]\nsay = "x"\ndoes = "phase"', "say which with phase"),
        (PLAN + '[[phrases]]\nsay = "x"\ndoes = "phase"\nphase = "recess"', "'recess', which no plan has"),
        (PLAN + '[[phrases]]\nsay = "x"\ndoes = "note"', "say which kind"),
        (PLAN + '[[phrases]]\nsay = "x"\ndoes = "resume listening"', "resume with a key or the page"),
        (
            PLAN + '[[phrases]]\nsay = "x"\ndoes = "close session"',
            "do that with a key, the page or the timetable",
        ),
        (PLAN + '[[phrases]]\nsay = "x"\ndoes = "praise"\n' * 2, "the phrase 'x' is bound twice"),
        (PLAN + '[[levels]]\nname = "a"\nleast_margin = 1\n' * 2, "two levels have the name 'a'"),
        (
            PLAN + TERM + "no_school = ['soon']",
            "timetable.no_school[1] = 'soon': write a day, as in 2026-09-07,",
        ),
        (
            PLAN + TERM + "no_school = [{ from = 2026-12-21 }]",
            "timetable.no_school[1].to: this key is missing",
        ),
        (PLAN + TERM + "week = 3", "timetable.week = 3: write them in brackets"),
        (PLAN + "advance = 'soon'", 'phases[1].advance = \'soon\': write "phrase", "clock" or, for both,'),
        (PLAN + "[listening]\nlanguage = 'English'", "write the language as in 'en' or 'es-mx'"),
        ("[school\n", "is not valid TOML"),
    ],
)
def test_each_mistake_names_file_key_value_and_remedy(text: str, said: str) -> None:
    """In plain words, with lists counted from one."""
    error = _error(text)
    assert error.startswith("companion.toml")
    assert said in error
    assert "Traceback" not in error


def test_a_missing_or_unreadable_file_is_told(tmp_path: Path) -> None:
    """With the command that writes one."""
    with pytest.raises(CompanionError, match="companion init"):
        load_settings(tmp_path / "companion.toml")
    (tmp_path / "companion.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(CompanionError, match="can't be read"):
        load_settings(tmp_path / "companion.toml")


@given(st.text(max_size=200))
def test_any_text_is_either_settings_or_one_plain_error(text: str) -> None:
    """Whatever stands in the file, nothing else is raised."""
    assert _outcome(text)


@given(st.integers(0, len(STARTER) - 1), st.integers(1, 30))
def test_a_starter_file_with_a_hole_is_either_settings_or_one_plain_error(start: int, length: int) -> None:
    """A slip of the keyboard in a real file."""
    assert _outcome(STARTER[:start] + STARTER[start + length :])
