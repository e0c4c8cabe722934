"""Fixtures and rules for all tests."""

import os
import sys
from collections.abc import Generator

import pytest
from hypothesis import settings

from tests.systems import NEEDS_NUMPY, is_wine

# How fast a property holds is no property: a busy machine would fail it.
settings.register_profile("unhurried", deadline=None)
# For a run that measures what the tests enter, not what they find.
settings.register_profile("few", deadline=None, max_examples=10)
settings.load_profile("unhurried")

pytest_plugins = ["tests.rig", "tests.rig_sound", "tests.watched"]


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
