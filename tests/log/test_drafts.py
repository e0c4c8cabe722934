"""What was typed and not saved."""

import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.log.drafts import Draft, Drafts
from tests.systems import is_private


@pytest.fixture
def drafts(tmp_path: Path) -> Drafts:
    """Return the drafts beside a log."""
    return Drafts(tmp_path / "sessions.db")


def test_what_was_typed_last_is_kept_by_form_and_field(drafts: Drafts) -> None:
    """Another look at the file finds it."""
    drafts.keep("s/note", "line", Draft("Gone to", ""))
    drafts.keep("s/note", "line", Draft("Gone to the office", ""))
    drafts.keep("day/levels", "name", Draft("Full bloom", "Bloom"))
    assert Drafts(drafts.path.with_name("sessions.db")).all() == {
        "s/note": {"line": Draft("Gone to the office", "")},
        "day/levels": {"name": Draft("Full bloom", "Bloom")},
    }
    assert drafts.typed("s/note") == {"line": "Gone to the office"}


def test_what_stands_as_before_is_no_draft(drafts: Drafts) -> None:
    """Typed and taken back again, it is forgotten."""
    drafts.keep("s/note", "line", Draft("x", ""))
    drafts.keep("s/note", "line", Draft("", ""))
    assert drafts.all() == {}


def test_drafts_are_forgotten_by_form_session_and_word(drafts: Drafts) -> None:
    """Each takes its own; the bytes are gone from the file as well."""
    for form, value in (("a/note", "K. T. went home"), ("b/note", "seat 3"), ("b/view", "Calm.")):
        drafts.keep(form, "line", Draft(value, ""))
    drafts.forget_words(["K. T.", " "])
    assert set(drafts.all()) == {"b/note", "b/view"}
    drafts.forget("b/view")
    assert set(drafts.all()) == {"b/note"}
    drafts.forget_sessions({"b"})
    assert drafts.all() == {}
    assert not [word for word in (b"K. T.", b"seat 3", b"Calm.") if word in drafts.path.read_bytes()]


def test_without_a_file_there_is_nothing_to_forget(drafts: Drafts) -> None:
    """And none is made for it."""
    drafts.forget("s/note")
    drafts.forget_words(["K. T."])
    assert drafts.all() == {}
    assert not drafts.path.exists()


def test_a_disk_that_does_not_take_it_is_told(tmp_path: Path) -> None:
    """With what is safe."""
    (tmp_path / "gone" / "sessions.db").parent.mkdir()
    drafts = Drafts(tmp_path / "gone" / "sessions.db")
    drafts.path.mkdir()
    with pytest.raises(CompanionError, match="can't be kept"):
        drafts.keep("s/note", "line", Draft("x", ""))


def test_a_file_that_a_full_disk_left_empty_is_read_without_writing(drafts: Drafts) -> None:
    """Every page reads it; nothing was typed then."""
    drafts.path.touch()
    assert drafts.all() == {}
    assert drafts.path.stat().st_size == 0


def test_drafts_are_private(drafts: Drafts) -> None:
    """Nobody else of this computer reads them."""
    drafts.keep("s/note", "line", Draft("x", ""))
    assert is_private(drafts.path)


def filled(drafts: Drafts) -> Drafts:
    """Return drafts of three forms."""
    drafts.keep("one/note", "line", Draft("a splinter", ""))
    drafts.keep("one/review", "why", Draft("my hands were full", ""))
    drafts.keep("two/note", "line", Draft("K. T. left a coat", ""))
    drafts.keep("two/note", "child", Draft("seat 3", ""))
    return drafts


def test_a_form_whose_words_were_taken_over_is_forgotten_whole(drafts: Drafts) -> None:
    """The others stay, and its bytes are gone from the file."""
    filled(drafts).forget("one/note", "nowhere")
    assert set(drafts.all()) == {"one/review", "two/note"}
    drafts.forget()
    assert set(drafts.all()) == {"one/review", "two/note"}
    assert b"splinter" not in drafts.path.read_bytes()
    assert b"hands were full" in drafts.path.read_bytes()


def test_a_session_is_forgotten_with_all_that_was_typed_about_it(drafts: Drafts) -> None:
    """In whichever form."""
    filled(drafts).forget_sessions({"one"})
    assert set(drafts.all()) == {"two/note"}
    drafts.forget_sessions({"two/note"})
    assert set(drafts.all()) == {"two/note"}


def test_a_form_in_which_a_word_was_typed_is_forgotten(drafts: Drafts) -> None:
    """Any of its fields may hold it; blank words are none."""
    filled(drafts).forget_words({" ", "", "left a"})
    assert set(drafts.all()) == {"one/note", "one/review"}
    drafts.forget_words({"seat 3"})
    assert set(drafts.all()) == {"one/note", "one/review"}


def test_forms_that_mention_a_child_are_forgotten_and_counted(drafts: Drafts) -> None:
    """Also where it only stood before."""
    drafts.keep("three/note", "line", Draft("gone", "K. T. went home"))
    assert filled(drafts).forget_mentions(re.compile(r"K\. T\.")) == 2
    assert set(drafts.all()) == {"one/note", "one/review"}


def test_words_are_gone_from_the_file_whatever_sqlite_was_built_with(
    drafts: Drafts, sqlite_built_with: Callable[[str], None]
) -> None:
    """Some builds leave what was deleted in free pages, unless they are told."""
    sqlite_built_with("secure_delete = OFF")
    drafts.keep("b/view", "line", Draft("The beds were dry.", ""))
    drafts.forget("b/view")
    assert b"beds" not in drafts.path.read_bytes()


def test_what_is_no_text_is_no_draft(drafts: Drafts) -> None:
    """A file that was damaged, as by a stick that was pulled, may hold anything; the words in it are read."""
    drafts.keep("day/plans", "name", Draft("garden", ""))
    drafts.keep("day/plans", "minutes", Draft("30", ""))
    with closing(sqlite3.connect(drafts.path)) as db, db:
        db.execute("UPDATE draft SET value = NULL WHERE field = 'minutes'")
    drafts.forget_words(["nothing of it"])
    assert drafts.typed("day/plans") == {"name": "garden"}


def test_wherever_the_file_is_damaged_it_is_told(drafts: Drafts) -> None:
    """Also where what SQLite says of it holds letters that are none."""
    drafts.keep("s/note", "line", Draft("Gone to the office", ""))
    whole, told = drafts.path.read_bytes(), 0
    for at in (place for place in range(len(whole)) if whole[place]):
        drafts.path.write_bytes(whole[:at] + b"\x80" + whole[at + 1 :])
        try:
            drafts.all()
        except CompanionError as error:
            told += "drafts.db" in error.what
    assert told > 10
