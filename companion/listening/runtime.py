"""Loads onnxruntime, the library that runs the networks, so that it tells nobody of it."""

from types import ModuleType


def load_onnxruntime() -> ModuleType:
    """Return onnxruntime with its reports to its maker off.

    The package's `__init__` has told it by the environment, which is enough on Linux and macOS and works only
    before the library is loaded; its builds for Windows listen to this call instead.
    """
    import onnxruntime  # noqa: PLC0415 - slow to import, and not needed by most commands

    onnxruntime.disable_telemetry_events()
    assert isinstance(onnxruntime, ModuleType)
    return onnxruntime
