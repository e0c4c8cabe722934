"""Make the companion for people without Python: one folder, and from it what the system installs.

    python .ci/bundle/build.py

Leaves `build/bundle/lesson-companion/` and, in `dist/`, a `.deb` on Linux (needs `dpkg-deb`), else a `.zip`.
Everything is fetched now and nothing when the bundle runs. The versions are those of `requirements.lock`.
"""

import platform
import re
import shutil
import subprocess
import sys
import venv
from importlib.metadata import Distribution, distributions
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
WORK = ROOT / "build" / "bundle"
FOLDER = WORK / "lesson-companion"
DIST = ROOT / "dist"
EXTRAS = "live,school"
BUILDER = "pyinstaller>=6.10,<7"
INSTALLED_AT = Path("opt/lesson-companion")
ICON = ROOT / "companion" / "pages" / "static" / "leaf.svg"
SYSTEM = "libportaudio2, libc6 (>= 2.36)"
"""Debian's packages that the bundle needs: PortAudio belongs to the system's own sound."""
ARCHITECTURES = {"x86_64": "amd64", "aarch64": "arm64"}


def environment() -> Path:
    """Make or bring up to date an environment with what is needed at run time; return its Python."""
    venv.create(WORK / "environment", with_pip=True)
    python = WORK / "environment" / ("Scripts" if sys.platform == "win32" else "bin") / "python"
    locked = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    limits = WORK / "versions.txt"
    limits.write_text("\n".join(re.findall(r"(?m)^[\w.-]+==[^\\\n]+", locked)), encoding="utf-8")
    run(python, "-m", "pip", "install", "-q", "-c", limits, f"{ROOT}[{EXTRAS}]", BUILDER)
    return python


def freeze(python: Path) -> str:
    """Put the folder together, with everybody's licences; return the version of the companion in it."""
    spec = HERE / "lesson-companion.spec"
    run(python, "-m", "PyInstaller", "--noconfirm", "--distpath", WORK, "--workpath", WORK / "pieces", spec)
    parts = list(distributions(path=[str(next((WORK / "environment").glob("**/site-packages")))]))
    (FOLDER / "LICENCES.txt").write_text("\n".join(map(_licence, parts)), encoding="utf-8")
    return next(part.version for part in parts if part.name == "lesson-companion")


def _licence(part: Distribution) -> str:
    told = part.metadata
    named = told.get("License-Expression") or told.get("License") or "; ".join(told.get_all("Classifier", []))
    files = [file for file in part.files or [] if re.search(r"(?i)licen[cs]e|copying|notice", file.name)]
    # What the record of a package names need not be there.
    files = [file for file in files if Path(file.locate()).is_file()]
    texts = [file.locate().read_text(encoding="utf-8", errors="replace") for file in files]
    return "\n".join([f"{'=' * 78}\n{part.name} {part.version}: {named}", *texts])


def debian_package(version: str) -> Path:
    """Return a `.deb` with the folder, a launcher and an icon; each user says whether it starts by itself."""
    tree = WORK / "deb"
    shutil.rmtree(tree, ignore_errors=True)
    shutil.copytree(FOLDER, tree / INSTALLED_AT, symlinks=True)
    link = tree / "usr/bin/companion"
    link.parent.mkdir(parents=True)
    link.symlink_to(f"/{INSTALLED_AT}/companion")
    for source, place in (
        (HERE / "lesson-companion.desktop", "usr/share/applications/lesson-companion.desktop"),
        (ICON, "usr/share/icons/hicolor/scalable/apps/lesson-companion.svg"),
        (ROOT / "LICENSE", "usr/share/doc/lesson-companion/copyright"),
    ):
        (tree / place).parent.mkdir(parents=True)
        shutil.copy(source, tree / place)
    version = version.replace(
        ".dev", "~dev"
    )  # Which for Debian comes before the release, as it does for Python.
    size = sum(file.lstat().st_size for file in tree.rglob("*") if file.is_file()) // 1024
    architecture = ARCHITECTURES[platform.machine()]
    (tree / "DEBIAN").mkdir()
    (tree / "DEBIAN/control").write_text(
        f"Package: lesson-companion\nVersion: {version}\nArchitecture: {architecture}\n"
        f"Installed-Size: {size}\nDepends: {SYSTEM}\nRecommends: espeak-ng\nSection: education\n"
        "Priority: optional\n"
        "Maintainer: the authors of Lesson Companion <nobody@localhost>\n"
        "Description: whole-class marks by voice or key for a specialist teacher\n"
        " From the lesson to the hand-off note, on this computer alone.\n",
        encoding="utf-8",
    )
    package = DIST / f"lesson-companion_{version}_{architecture}.deb"
    DIST.mkdir(exist_ok=True)
    run("chmod", "-R", "u+rwX,go+rX,go-w", tree)
    run("dpkg-deb", "--root-owner-group", "-Zzstd", "--build", tree, package)
    return package


def archive(version: str) -> Path:
    """Return a `.zip` with the folder."""
    name = DIST / f"lesson-companion-{version}-{sys.platform}"
    return Path(shutil.make_archive(str(name), "zip", WORK, FOLDER.name))


def run(*command: str | Path) -> None:
    """Run `command`. Raises CalledProcessError when it fails."""
    subprocess.run([str(word) for word in command], check=True, cwd=WORK)


def main() -> None:
    """Make the bundle for the system that this runs on."""
    WORK.mkdir(parents=True, exist_ok=True)
    version = freeze(environment())
    made = debian_package(version) if sys.platform.startswith("linux") else archive(version)
    print(f"{made.relative_to(ROOT)}: {made.stat().st_size / 1e6:.0f} MB")


if __name__ == "__main__":
    main()
