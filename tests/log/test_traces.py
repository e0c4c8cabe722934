"""The search that proves that words are gone."""

import json
import mmap
from pathlib import Path

import pytest

from companion.log.traces import MOST_WORDS, PIECE, set_up_words_of, traces, words_in, words_of
from tests.systems import makes_links


def test_the_texts_of_people_are_found_in_a_row() -> None:
    """Also within lists and tables; the program's own words are none."""
    row = {
        "id": "e1",
        "session": "s1",
        "body": '{"kind": "praise", "line": "went home", "names": ["seat 3"]}',
    }
    assert words_of(row) == {"e1", "s1", "went home", "seat 3"}
    assert words_of(row | {"body": "{torn"}) == {"e1", "s1", "{torn"}
    planned = row | {"body": '{"plan": {"phases": ["line up"]}, "routine": "stand ready", "rating": "so-so"}'}
    assert words_of(planned) == {"e1", "s1", "line up", "stand ready"}
    assert set_up_words_of(planned) == {"line up"}
    assert set_up_words_of(row | {"body": "{torn"}) == set()
    assert list(words_in({"plan": {"name": "garden", "minutes": 3}, "scope": "table four"})) == ["garden"]


def test_every_file_that_holds_a_word_is_named(tmp_path: Path) -> None:
    """As it is, as JSON writes it, and in the name of a file; nothing else is."""
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "plain.txt").write_text("… went home sooner …", encoding="utf-8")
    (tmp_path / "escaped.json").write_text('"said \\\\"went home sooner\\\\""', encoding="utf-8")
    (tmp_path / "went home sooner.flac").write_bytes(b"\0")
    (tmp_path / "other.txt").write_text("went to the office", encoding="utf-8")
    (tmp_path / "empty.txt").touch()
    found = traces(tmp_path, ["went home sooner"])
    assert [path.name for path in found] == ["plain.txt", "escaped.json", "went home sooner.flac"]
    assert traces(tmp_path, ["went home sooner"], but=[tmp_path]) == []


def test_a_short_word_is_looked_for_as_a_whole_text_only(tmp_path: Path) -> None:
    """Two letters stand by chance in any large file."""
    (tmp_path / "chance.bin").write_bytes(b"xxK.T.xx")
    (tmp_path / "text.json").write_text('{"child": "K.T."}', encoding="utf-8")
    (tmp_path / "code.json").write_text('{"child": "은"}', encoding="utf-8")
    assert [path.name for path in traces(tmp_path, ["K.T.", ""])] == ["text.json"]
    assert [path.name for path in traces(tmp_path, ["은"])] == ["code.json"]


@makes_links
def test_a_link_is_not_followed(tmp_path: Path) -> None:
    """What it leads to is not ours."""
    (tmp_path / "here").mkdir()
    (tmp_path / "there.txt").write_text("went home sooner", encoding="utf-8")
    (tmp_path / "here" / "link.txt").symlink_to(tmp_path / "there.txt")
    assert traces(tmp_path / "here", ["went home sooner"]) == []


@pytest.mark.parametrize(("length", "found"), [(5, False), (6, True)])
def test_a_short_word_stands_by_chance(tmp_path: Path, length: int, found: bool) -> None:
    """Only with its quotation marks is it one of ours."""
    word = "abcdefgh"[:length]
    (tmp_path / "file").write_text(f"xx{word}xx")
    assert bool(traces(tmp_path, [word])) is found


def test_a_long_word_that_is_broken_is_found_by_its_ends(tmp_path: Path) -> None:
    """SQLite breaks it at the end of a page; nothing shorter than its first or last piece is it."""
    word = "-".join(map(str, range(100, 100 + PIECE)))
    for piece, found in {
        word[:PIECE]: True,
        word[-PIECE:]: True,
        word[: PIECE - 1]: False,
        word[PIECE : 3 * PIECE - 10]: False,
    }.items():
        (tmp_path / "file").write_text(piece)
        assert bool(traces(tmp_path, [word])) is found


def test_the_longest_words_are_looked_for(tmp_path: Path) -> None:
    """Many short ones would stand somewhere anyway."""
    words = [f"{'x' * (10 + number)}!" for number in range(MOST_WORDS + 1)]
    (tmp_path / "file").write_text(f"a{words[0]}")
    assert traces(tmp_path, words) == []
    assert len(traces(tmp_path, words[:-1])) == 1


@pytest.mark.parametrize(("error", "found"), [(FileNotFoundError(), False), (PermissionError(), True)])
def test_a_file_that_can_not_be_read_may_hold_a_word(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: OSError, found: bool
) -> None:
    """One that is gone meanwhile holds none."""

    def refuse(*_: object, **__: object) -> None:
        raise error

    (tmp_path / "file").write_text("nothing of the kind")
    monkeypatch.setattr(mmap, "mmap", refuse)
    assert bool(traces(tmp_path, ["went home sooner"])) is found


def test_a_word_is_found_as_it_stands_in_json(tmp_path: Path) -> None:
    """With marks before its quotes, and its letters as they are."""
    word = 'Ölbäume "am Zaun" über 은행나무'
    (tmp_path / "body").write_text(json.dumps({"line": word}, ensure_ascii=False), encoding="utf-8")
    assert traces(tmp_path, [word]) == [tmp_path / "body"]
