"""Who may read the companion's folder."""

import os
import sys
from datetime import datetime
from pathlib import Path

import pytest

from companion import access
from companion.access import keep_to_user, others, others_in
from companion.background.doctor import examine
from companion.log.copies import back_up
from companion.log.store import open_log
from companion.pages.house import Verdict
from companion.paths import Home

OWN = "S-1-5-21-1004336348-1177238915-682003330-512"


@pytest.mark.parametrize(
    ("sddl", "found"),
    [
        (f"home\r\nD:PAI(A;OICI;FA;;;SY)(A;OICI;FA;;;BA)(A;OICI;FA;;;{OWN})\r\n", []),
        (f"home\r\nD:AI(A;OICIID;FA;;;SY)(A;OICIID;0x1200a9;;;BU)(A;ID;FA;;;{OWN})\r\n", ["BU"]),
        ("home\r\nD:(D;;FA;;;WD)(A;;FR;;;WD)(A;;FR;;;S-1-5-21-7)\r\n", ["WD", "S-1-5-21-7"]),
        (f"home\r\nD:PAI(A;OICI;FA;;;{OWN})(A;OICIIO;FA;;;CO)(A;;FA;;;OW)(A;;FR;;;LA)\r\n", ["LA"]),
        ("home\r\nD:NO_ACCESS_CONTROL\r\n", ["WD"]),
        ("nothing of the kind", []),
    ],
)
def test_an_access_list_tells_who_else_is_let_in(sddl: str, found: list[str]) -> None:
    """As Windows writes one down, in any language of the system: users, everybody, another account."""
    assert others_in(sddl, OWN) == found


def test_the_first_account_of_a_computer_is_its_own_user() -> None:
    """SDDL has a word for it, whoever asks."""
    assert others_in("home\r\nD:P(A;;FA;;;LA)\r\n", OWN.removesuffix("512") + "500") == []


ICACLS = """#!{python}
# Does what Windows' own icacls does with one file or folder: /save, /reset, /inheritance:r /grant:r.
import hashlib, pathlib, sys
path, verb, *rest = sys.argv[1:]
kept = pathlib.Path({store!r}) / hashlib.sha256(path.encode()).hexdigest()
OPEN = "D:AI(A;OICIID;FA;;;SY)(A;OICIID;FA;;;BA)(A;OICIID;0x1200a9;;;BU)"
SHORT = {{"S-1-5-18": "SY", "S-1-5-32-544": "BA"}}
if verb == "/save":
    sddl = kept.read_text() if kept.exists() else OPEN
    text = pathlib.Path(path).name + "\\r\\n" + sddl + "\\r\\n"
    pathlib.Path(rest[0]).write_bytes(text.encode("utf-16-le"))
elif (pathlib.Path({store!r}) / "refuses").exists():
    print(path + ": Access is denied.", file=sys.stderr)
    sys.exit(5)
elif verb == "/reset":
    kept.write_text(OPEN)
else:
    assert (verb, rest[0]) == ("/inheritance:r", "/grant:r"), sys.argv
    accounts = [word.removeprefix("*").removesuffix(":(OI)(CI)F") for word in rest[1:]]
    kept.write_text("D:PAI" + "".join(f"(A;OICI;FA;;;{{SHORT.get(one, one)}})" for one in accounts))
"""


@pytest.fixture
def windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give stand-ins for Windows' own tools, and where they keep the access lists."""
    store, tools = tmp_path / "lists", tmp_path / "tools"
    for folder in (store, tools):
        folder.mkdir()
    whoami = f'#!/bin/sh\necho \'"alder\\teacher","{OWN}"\'\n'
    for name, text in (
        ("icacls", ICACLS.format(python=sys.executable, store=str(store))),
        ("whoami", whoami),
    ):
        (tools / name).write_text(text)
        (tools / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{tools}{os.pathsep}{os.environ['PATH']}")
    monkeypatch.setattr(access, "ACCESS_LISTS", True)
    return store


def test_an_access_list_is_set_looked_at_and_told_by_the_doctor(windows: Path, tmp_path: Path) -> None:
    """For log, backups, clips, voice and secrets; where Windows refuses, a lesson is not said to be safe."""
    home = Home(tmp_path / "home").create()
    assert others(home.folder) == []
    open_log(home.log).close()
    back_up(home.log, "day", datetime.now().astimezone())
    for folder in (home.clips, home.voice, home.run):
        folder.mkdir()
    told = next(examine(home))
    assert told.verdict is Verdict.WARNING
    for place in (home.log, home.clips, home.voice, home.run):
        assert str(place) in told.words
        assert others(place) == []
    assert str(home.log.parent / "backups") not in told.words
    assert next(examine(home)).verdict is Verdict.GOOD
    for kept in windows.iterdir():
        kept.unlink()
    (windows / "refuses").touch()
    told = next(examine(home))
    assert told.verdict is Verdict.WARNING
    assert "Access is denied" in told.words


def test_a_folder_is_kept_to_its_user(tmp_path: Path) -> None:
    """It was open to others, and is not afterwards; what comes into it later is closed as well."""
    folder = tmp_path / "home"
    folder.mkdir(mode=0o755)
    assert os.name == "nt" or others(folder) == ["its group", "everybody"]
    keep_to_user(folder)
    assert others(folder) == []
    (folder / "inside").mkdir(mode=0o700)
    assert others(folder / "inside") == []
    assert others(tmp_path / "nowhere") == []
