"""The same SQL files on DuckDB and on a distributed engine with two workers."""

import os
import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from companion.bench.school_rooms import make_store, mondays
from companion.school.ask import GROUPS, QUESTIONS, open_lessons, sql_of
from companion.school.engine import engine
from companion.school.gather import Store

pytest.importorskip("pysail", reason="Sail has no build for this machine")
ASKED = "SELECT '2026-08-20' AS since, '2026-10-20' AS until"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    """Return twelve weeks of twelve rooms of three schools."""
    made = Store(tmp_path_factory.mktemp("school"))
    make_store(made, 12, mondays(1)[-12:])
    return made


@contextmanager
def two_workers() -> Iterator[Any]:
    """Give a session of an engine whose driver hands the work to two workers."""
    os.environ |= {
        "SAIL_MODE": "local-cluster",
        "SAIL_CLUSTER__WORKER_INITIAL_COUNT": "2",
        "SAIL_CLUSTER__WORKER_MAX_COUNT": "2",
    }
    from pysail.spark import SparkConnectServer  # noqa: PLC0415 - reads what was set just now
    from pyspark.sql import SparkSession  # noqa: PLC0415 - imports half of pandas

    server = SparkConnectServer()
    server.start()
    _, port = server.listening_address
    session = SparkSession.builder.remote(f"sc://127.0.0.1:{port}").getOrCreate()
    try:
        yield session
    finally:
        session.stop()
        server.stop()


def rows_of(found: Iterable[Iterable[object]]) -> list[tuple[str, ...]]:
    """Return rows in an order of their own: a question without ORDER BY promises none."""
    return sorted(tuple(map(str, row)) for row in found)


@pytest.mark.filterwarnings("default")
def test_the_questions_have_equal_answers_on_two_engines(store: Store) -> None:
    """Every group and every answer, row by row."""
    with engine(folders=[store.folder]) as db:
        open_lessons(db, store.files, store.closed)
        db.execute(f"CREATE TEMP TABLE asked AS {ASKED}")
        expected = {}
        for name in (*GROUPS, *QUESTIONS):
            db.execute(f"CREATE TEMP TABLE {name} AS {sql_of(name)}")
            expected[name] = rows_of(db.execute(f"FROM {name}").fetchall())
    with warnings.catch_warnings(), two_workers() as session:
        session.read.parquet(str(store.lessons)).createOrReplaceTempView("lesson_phases")
        session.sql(f"SELECT '{store.closed}' AS week").createOrReplaceTempView("closed")
        session.sql(ASKED).createOrReplaceTempView("asked")
        for name in (*GROUPS, *QUESTIONS):
            session.sql(sql_of(name)).createOrReplaceTempView(name)
            assert rows_of(session.table(name).collect()) == expected[name], name
    assert all(expected.values())
