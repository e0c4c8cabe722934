"""What templates were compiled to, kept for the next start."""

import shutil
from pathlib import Path

import jinja2
import pytest

from companion.pages.compiled import compiled_in
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.school_day import HandClock
from tests.systems import is_private


def said(home: Home, source: str) -> str:
    """Return what a fresh start says by a template, with what was kept in `home`."""
    loader = jinja2.DictLoader({"page.html": source})
    return (
        jinja2.Environment(loader=loader, bytecode_cache=compiled_in(home)).get_template("page.html").render()
    )


def test_a_template_is_compiled_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The next start takes it as it was compiled; a template that was changed meanwhile is compiled anew."""
    home = Home(tmp_path / "home").create()
    assert said(home, "{{ 1 + 1 }} marks") == "2 marks"
    assert all(is_private(file) for file in (home.run / "templates").iterdir())
    assert said(home, "{{ 1 + 2 }} marks") == "3 marks"
    monkeypatch.setattr(jinja2.Environment, "compile", None)
    assert said(home, "{{ 1 + 2 }} marks") == "3 marks"


@pytest.mark.parametrize("damage", ["cut off", "filled with nothing", "no folder"])
def test_what_was_damaged_is_compiled_anew(tmp_path: Path, damage: str) -> None:
    """A page needs no file of that folder."""
    home = Home(tmp_path / "home").create()
    said(home, "{{ 1 + 1 }} marks")
    (file,) = (home.run / "templates").iterdir()
    kept = file.read_bytes()
    if damage == "no folder":
        shutil.rmtree(home.run / "templates")
        (home.run / "templates").write_bytes(b"in the way")
    else:
        rest = bytes(200) if damage == "filled with nothing" else b""
        file.write_bytes(kept[:-200] + rest)
    assert said(home, "{{ 1 + 1 }} marks") == "2 marks"


def test_a_folder_that_is_gone_costs_no_page(tmp_path: Path) -> None:
    """Nothing of it is needed while the pages are served."""
    home = Home(tmp_path / "home").create()
    compiled = compiled_in(home)
    shutil.rmtree(home.run)
    loader = jinja2.DictLoader({"page.html": "{{ 1 + 1 }} marks"})
    page = jinja2.Environment(loader=loader, bytecode_cache=compiled).get_template("page.html")
    assert page.render() == "2 marks"


def test_the_pages_keep_theirs_in_the_home(home: Home, clock: HandClock) -> None:
    """Who serves them makes the folder."""
    PageServer(home, LogPort(home.log, clock.wall), clock.wall).start().stop()
    assert (home.run / "templates").is_dir()
