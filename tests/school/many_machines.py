"""The school's SQL files on DuckDB and on a distributed engine with two workers.

`python -m tests.school.many_machines` wants an environment of its own with the extras `school` and
`district`: their pandas would make each start slower.
"""

import os
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from companion.bench.school_rooms import make_store, mondays
from companion.school.ask import GROUPS, QUESTIONS, open_lessons, sql_of
from companion.school.engine import engine
from companion.school.store import Store

ASKED = "SELECT '2026-08-20' AS since, '2026-10-20' AS until"


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


def main() -> None:
    """Ask twelve weeks of twelve rooms of three schools on both: every group and every answer, row by row."""
    with TemporaryDirectory() as folder:
        store = Store(Path(folder))
        make_store(store, 12, mondays(1)[-12:])
        expected = on_one_machine(store)
        found = on_two_workers(store)
    for name in expected:
        print(
            f"{name}: {len(expected[name])} rows, {'equal' if found[name] == expected[name] else 'NOT EQUAL'}"
        )
    if found != expected or not all(expected.values()):
        sys.exit("The engines give other answers, or a question has none.")


def on_one_machine(store: Store) -> dict[str, list[tuple[str, ...]]]:
    """Return the rows of each question as DuckDB has them."""
    answers = {}
    with engine(folders=[store.folder]) as db:
        open_lessons(db, store.files, store.closed)
        db.execute(f"CREATE TEMP TABLE asked AS {ASKED}")
        for name in (*GROUPS, *QUESTIONS):
            db.execute(f"CREATE TEMP TABLE {name} AS {sql_of(name)}")
            answers[name] = rows_of(db.execute(f"FROM {name}").fetchall())
    return answers


def on_two_workers(store: Store) -> dict[str, list[tuple[str, ...]]]:
    """Return the rows of each question as the distributed engine has them."""
    answers = {}
    with two_workers() as session:
        session.read.parquet(str(store.lessons)).createOrReplaceTempView("lesson_phases")
        session.sql(f"SELECT '{store.closed}' AS week").createOrReplaceTempView("closed")
        session.sql(ASKED).createOrReplaceTempView("asked")
        for name in (*GROUPS, *QUESTIONS):
            session.sql(sql_of(name)).createOrReplaceTempView(name)
            answers[name] = rows_of(session.table(name).collect())
    return answers


if __name__ == "__main__":
    main()
