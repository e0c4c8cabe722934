"""The lock file names one version, with its hashes, of all that the project needs."""

import re
import tomllib
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parent.parent
AGAIN = (
    "make it again: uv pip compile pyproject.toml --extra tests --universal --generate-hashes "
    "--no-emit-index-url --python-version 3.11 -o requirements.lock"
)


def test_the_lock_file_fits_the_dependencies() -> None:
    """Whatever is asked for in pyproject.toml is there, in a version that will do, each with hashes."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    asked = [*project["dependencies"], *extras["tests"], *extras["live"], *extras["bench"]]
    locked = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    pinned: dict[str, list[str]] = {}
    for name, version, hashes in re.findall(
        r"(?ms)^([\w.-]+)==([\w.+!-]+)(.*?)(?=^\w|\Z)", locked, re.MULTILINE | re.DOTALL
    ):
        assert "--hash=sha256:" in hashes, name
        pinned.setdefault(canonicalize_name(name), []).append(version)
    for line in asked:
        wanted = Requirement(line)
        if canonicalize_name(wanted.name) == "lesson-companion":
            continue
        versions = pinned.get(canonicalize_name(wanted.name), [])
        assert any(wanted.specifier.contains(version) for version in versions), f"{line}: {AGAIN}"
