"""The chain of hashes."""

from pathlib import Path

from companion.log.codec import row_of
from companion.log.seal import COLUMNS, chain, link, seal_anew
from companion.log.store import open_log
from tests.lesson.builders import AT, OPENED, events, praise

ROWS = [row_of(event) for event in events(praise(1_000), praise(2_000))]


def test_each_column_and_the_order_are_sealed() -> None:
    """A change of any one gives another link; a column that came later is not sealed."""
    whole = chain(ROWS)
    assert len(whole) == 64
    for column in COLUMNS:
        assert chain([ROWS[0], ROWS[1] | {column: "other"}, ROWS[2]]) != whole
    assert chain([ROWS[0], ROWS[2], ROWS[1]]) != whole
    assert chain([row | {"batch": "other"} for row in ROWS]) == whole


def test_a_chain_goes_on_where_it_was() -> None:
    """Link by link it is the chain over all."""
    assert link(chain(ROWS[:2]), ROWS[2]) == chain(ROWS)
    assert chain(ROWS[1:], chain(ROWS[:1])) == chain(ROWS)


def test_a_session_sealed_anew_has_the_seal_that_it_had(tmp_path: Path) -> None:
    """What was sealed with each append is what the whole gives."""
    with open_log(tmp_path / "sessions.db") as log:
        session = log.open_session(OPENED, AT).id
        log.append(session, praise(1_000), at=AT, offset_ms=1_000)
        with log.writing() as db:
            before = db.execute("SELECT seq, link FROM seal").fetchall()
            seal_anew(db, session)
            assert db.execute("SELECT seq, link FROM seal").fetchall() == before
            assert before[0][0] == 2
