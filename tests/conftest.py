"""Fixtures and rules for all tests."""

import os
import signal
import sys
from collections.abc import Generator, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from companion.language import ENGLISH, speak
from companion.typed import PROGRAM, type_with
from tests.systems import NEEDS_NUMPY, is_wine

# How fast a property holds is no property: a busy machine would fail it.
settings.register_profile("unhurried", deadline=None)
# For a run that measures what the tests enter, not what they find.
settings.register_profile("few", deadline=None, max_examples=10)
settings.load_profile("unhurried")

# Begun in the background, a shell's child ignores Ctrl+C, and so would every program that a test ends by it.
signal.signal(signal.SIGINT, signal.default_int_handler)

pytest_plugins = ["tests.pseudo", "tests.rig", "tests.rig_sound", "tests.watched"]

LONGEST_FIRST = (
    "torture/test_torture.py",
    "pages/test_access.py",
    "pages/test_drafts.py",
    "test_distribution.py",
    "test_nothing_leaves.py",
    "week/test_week.py",
    "pages/test_board.py",
    "commands/test_guided_rehearsal.py",
    "weeks/test_history.py",
    "pages/setup/test_way_in.py",
)
"""Files that take a minute or so: begun last, one of them would be waited for by all."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files."""
    place = {Path(__file__).parent / name: number for number, name in enumerate(LONGEST_FIRST)}
    items.sort(key=lambda item: place.get(item.path, len(place)))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Give whole files to the workers, in this order: what the tests of a file share is made once."""
    from xdist.scheduler import LoadFileScheduling  # type: ignore[import-untyped]  # noqa: PLC0415

    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


@pytest.fixture(autouse=True)
def _own_words_again() -> Iterator[None]:
    """Speak English, of the usual home, again: a command that ran in this process spoke for its own."""
    yield
    speak(ENGLISH)
    type_with(PROGRAM, ())


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """Let no test be skipped where all must run: in CI on Linux a skip is a failure."""
    report = yield
    if (
        report.skipped
        and sys.platform == "linux"
        and os.environ.get("CI")
        and not hasattr(report, "wasxfail")
    ):
        report.outcome = "failed"
        report.longrepr = f"skipped in CI: {report.longrepr}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Skip under Wine, and nowhere else, a module that imports numpy or what needs it."""
    report = yield
    if report.failed and is_wine():
        cause = report.call.excinfo.value.__cause__
        if isinstance(cause, ModuleNotFoundError) and cause.name in NEEDS_NUMPY:
            report.outcome = "skipped"
            report.longrepr = (str(collector.path), 0, "numpy can't be loaded under Wine")
    return report
