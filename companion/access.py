"""Who may read the companion's folder: set and looked at by modes, on Windows by access lists."""

import getpass
import os
import re
import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory

from companion.language import _

ACCESS_LISTS = os.name == "nt"
"""Whether files are kept by access lists here, and not by modes."""
NOBODY_ELSE = frozenset({"SY", "BA", "OW", "CO"})
"""Who may always read on Windows, as SDDL writes them: the system and those who administer the computer. The
rights of an owner, and of whoever makes a file, are the user's own."""
FIRST_ACCOUNT, FIRST_ACCOUNT_SID = "LA", "-500"
"""SDDL's word for the account that Windows makes first, and the end of its identifier."""
EVERYBODY = "WD"
_ALLOWS = re.compile(r"\(A;[^;)]*;[^;)]*;[^;)]*;[^;)]*;([^;)]+)\)")
"""An entry that allows, in SDDL: (A;flags;rights;object;inherited;account)."""
ICACLS_S = 20.0
NO_WINDOW: int = getattr(subprocess, "CREATE_NO_WINDOW", 0)
"""Starts a program of Windows' console without a window, which the class would see."""


def keep_to_user(folder: Path) -> None:
    """Let this user alone read `folder` and what is in it; on Windows what comes into it later as well.

    What the file system can't keep stays as it is: `others` tells. Raises OSError if it refuses.
    """
    if not ACCESS_LISTS:
        if folder.stat().st_mode & 0o077:
            folder.chmod(0o700)
        return
    grants = [f"*{account}:(OI)(CI)F" for account in (_own_sid(), "S-1-5-18", "S-1-5-32-544")]
    # What somebody else was granted by hand goes with the reset, what the folder above grants by the next.
    _icacls(str(folder), "/reset")
    _icacls(str(folder), "/inheritance:r", "/grant:r", *grants)


def others(path: Path) -> list[str]:
    """Return who else may read the file or folder `path`; nobody if it is not there.

    Raises OSError if the system does not say.
    """
    if not path.exists():
        return []
    if ACCESS_LISTS:
        with TemporaryDirectory() as folder:
            saved = Path(folder) / "list.txt"
            _icacls(str(path), "/save", str(saved))
            return others_in(saved.read_text("utf-16-le", "replace"), _own_sid())
    mode = path.stat().st_mode
    return [who for bits, who in ((0o070, _("its group")), (0o007, _("everybody"))) if mode & bits]


def others_in(sddl: str, own: str) -> list[str]:
    """Return the accounts that an access list in SDDL allows something, besides `own` and the system's."""
    if "D:NO_ACCESS_CONTROL" in sddl:
        return [EVERYBODY]
    allowed = dict.fromkeys(_ALLOWS.findall(sddl))
    ours = {own, FIRST_ACCOUNT} if own.endswith(FIRST_ACCOUNT_SID) else {own}
    return [account for account in allowed if account not in NOBODY_ELSE | ours]


def _own_sid() -> str:
    said = _run("whoami", "/user", "/fo", "csv", "/nh")
    found = re.search(r"S-1-[\d-]+", said)
    if found is None:
        msg = f"Windows does not say who {getpass.getuser()} is"
        raise OSError(msg)
    return found[0]


def _icacls(*words: str) -> None:
    _run("icacls", *words)


def _run(*words: str) -> str:
    try:
        done = subprocess.run(  # noqa: S603 - Windows' own tools
            words,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=ICACLS_S,
            check=False,
            creationflags=NO_WINDOW,
        )
    except subprocess.TimeoutExpired as error:
        raise OSError(str(error)) from error
    if done.returncode:
        raise OSError(done.returncode, (done.stderr or done.stdout).strip())
    return done.stdout
