"""The bundle for people without Python: what it starts, and what its package puts where."""

import importlib.util
import os
import platform
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

BUNDLE = Path(__file__).parents[1] / ".ci" / "bundle"


def _started(*words: str) -> str:
    command = [sys.executable, str(BUNDLE / "program.py"), *words]
    environment = {**os.environ, "PYTHONPATH": str(BUNDLE.parents[1])}
    return subprocess.run(command, capture_output=True, text=True, check=True, env=environment).stdout


def test_the_program_of_the_bundle_is_the_command_line_and_starts_modules_as_python_does() -> None:
    """The companion starts itself again as `sys.executable -m companion …`."""
    version = _started("--version")
    assert version.startswith("companion, version")
    assert _started("-m", "companion", "--version") == version


@pytest.fixture
def build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Give the script that builds, at work in another folder."""
    spec = importlib.util.spec_from_file_location("build", BUNDLE / "build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "WORK", tmp_path)
    monkeypatch.setattr(module, "FOLDER", tmp_path / "lesson-companion")
    monkeypatch.setattr(module, "DIST", tmp_path / "dist")
    return module


def test_the_package_has_program_launcher_icon_and_licences(build: ModuleType, tmp_path: Path) -> None:
    """Unpacked, the launcher starts a program that is there, by an icon that is there; all may read it."""
    program = build.FOLDER / "companion"
    program.parent.mkdir()
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o700)
    (build.FOLDER / "LICENCES.txt").write_text("whose\n", encoding="utf-8")
    package = build.debian_package("1.2.3.dev4+gabc")
    root = tmp_path / "root"
    subprocess.run(["dpkg-deb", "-x", package, root], check=True)
    told = subprocess.run(["dpkg-deb", "-f", package], capture_output=True, text=True, check=True).stdout
    assert "Version: 1.2.3~dev4+gabc" in told
    assert f"Architecture: {build.ARCHITECTURES[platform.machine()]}" in told
    launcher = (root / "usr/share/applications/lesson-companion.desktop").read_text(encoding="utf-8")
    entries = dict(line.split("=", 1) for line in launcher.splitlines() if "=" in line)
    started = root / entries["Exec"].split()[0].removeprefix("/")
    assert started.stat().st_mode & 0o777 == 0o755
    assert (root / "usr/bin/companion").readlink() == Path(entries["Exec"].split()[0])
    assert list((root / "usr/share/icons").rglob(f"{entries['Icon']}.svg"))
    assert (started.parent / "LICENCES.txt").stat().st_mode & 0o777 == 0o644
