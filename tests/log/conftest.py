"""Fixtures for the tests of the log."""

import sqlite3
from collections.abc import Callable

import pytest


@pytest.fixture
def sqlite_built_with(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Return what lets every connection begin with a pragma, as another build of SQLite would."""
    connect = sqlite3.connect

    def built_with(pragma: str) -> None:
        def connected(path: str, timeout: float = 5.0, uri: bool = False) -> sqlite3.Connection:
            db = connect(path, timeout=timeout, uri=uri)
            db.execute(f"PRAGMA {pragma}")
            return db

        monkeypatch.setattr(sqlite3, "connect", connected)

    return built_with
