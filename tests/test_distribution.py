"""What `python -m build` makes, installed where no checkout is in sight."""

import os
import re
import subprocess
import sys
import tarfile
import venv
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]


def run(*command: str | Path, cwd: Path) -> str:
    """Run a program to its end, in an environment that knows nothing of the checkout; return what it said."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "COMPANION"))}
    words = [str(word) for word in command]
    done = subprocess.run(words, cwd=cwd, env=kept, capture_output=True, text=True, timeout=500, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make the source archive, and from it the wheel, with what the tests have installed."""
    folder = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, TOP, cwd=folder)
    return folder


def test_the_wheel_of_the_source_archive_runs_the_demo(made: Path, tmp_path: Path) -> None:
    """In a fresh environment it brings all its files: networks, words, pages and sample sessions."""
    venv.create(tmp_path / "venv")
    python = tmp_path / "venv" / "bin" / "python"
    (wheel,) = made.glob("*.whl")
    pip = (sys.executable, "-m", "pip", "--python", python)
    run(*pip, "install", "--quiet", "--no-deps", "--no-index", "--no-compile", wheel, cwd=tmp_path)
    packages = run(
        python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=tmp_path
    ).strip()
    # What the companion depends on is that of the tests: fetching it would need a network.
    theirs = [path for path in sys.path if Path(path).name == "site-packages"]
    (Path(packages) / "dependencies.pth").write_text("\n".join(theirs))
    where = "import companion; print(companion.__file__)"
    assert run(python, "-c", where, cwd=tmp_path).startswith(packages)
    companion = (tmp_path / "venv" / "bin" / "companion", "--home", tmp_path / "home")
    assert re.search(r"version \d+\.\d+", run(*companion, "--version", cwd=tmp_path))
    assert "What was heard" in run(*companion, "demo", cwd=tmp_path)
    assert "vosk-model-small-en-us" in run(*companion, "models", "list", cwd=tmp_path)


def test_the_source_archive_holds_what_contributors_need(made: Path) -> None:
    """Tests, what makes the bundled files, and the guide."""
    (archive,) = made.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        names = {name.partition("/")[2] for name in opened.getnames()}
    for path in (
        "DEVELOPERS.md",
        "LICENSE",
        "models/making/make_english.py",
        "tests/test_docs.py",
        ".ci/run",
    ):
        assert path in names
