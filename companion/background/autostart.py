"""The companion starts with the desktop session: one entry, in the form that each system has for it."""

import plistlib
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _
from companion.paths import Home, default_home

NAME = "lesson-companion"
LABEL = "school.lesson-companion"
"""What launchd calls it."""

COMMAND: tuple[str, ...] = (sys.executable, "-m", "companion", "run")
"""What is started: this very installation, in the foreground, since the system keeps it."""


def command_for(home: Home) -> tuple[str, ...]:
    """Return what starts the companion of `home`."""
    if home == default_home():
        return COMMAND
    return (*COMMAND[:-1], "--home", str(home.folder.absolute()), COMMAND[-1])


@dataclass(frozen=True, slots=True)
class AutostartEntry:
    """The file that makes a system start the companion, and what it says."""

    path: Path
    text: str
    link: Path | None = None
    """A link to the file, where the system wants one too."""
    tell: tuple[str, ...] = ()
    """A command that tells the running session; without it the entry holds from the next log-in."""


def entry_for(
    platform: str, home: Path, command: tuple[str, ...] = COMMAND, environment: dict[str, str] | None = None
) -> AutostartEntry:
    """Return the entry of `platform` (as in `sys.platform`) in the folder `home`.

    environment: looked at for XDG_CONFIG_HOME on Linux and APPDATA on Windows.
    Raises CompanionError on a system without a known form.
    """
    environment = environment or {}
    if platform.startswith("linux"):
        config = Path(environment.get("XDG_CONFIG_HOME") or home / ".config")
        return _systemd_unit(config, command)
    if platform == "darwin":
        return _launch_agent(home, command)
    if platform == "win32":
        return _start_up_script(Path(environment.get("APPDATA") or home / "AppData" / "Roaming"), command)
    raise CompanionError(
        _(
            "On this system ({platform}) the companion does not know how to start with the session.",
            platform=platform,
        ),
        remedy=_("Add `companion run` to the session's start-up programs by hand."),
    )


def _systemd_unit(config: Path, command: tuple[str, ...]) -> AutostartEntry:
    # systemd reads % and $ inside quotes too; doubled they stand for themselves.
    words = " ".join('"' + _escaped(word) + '"' for word in command)
    target = "graphical-session.target"
    folder = config / "systemd" / "user"
    text = f"""[Unit]
Description=Lesson Companion
PartOf={target}
After={target}

[Service]
ExecStart={words}
Restart=on-failure
RestartSec=5
# Exit status 2 is a trouble that only a person can mend.
RestartPreventExitStatus=2
TimeoutStopSec=20

[Install]
WantedBy={target}
"""
    unit = f"{NAME}.service"
    link = folder / f"{target}.wants" / unit
    return AutostartEntry(folder / unit, text, link, ("systemctl", "--user", "daemon-reload"))


def _escaped(word: str) -> str:
    return word.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")


def _launch_agent(home: Path, command: tuple[str, ...]) -> AutostartEntry:
    settings = {
        "Label": LABEL,
        "ProgramArguments": list(command),
        "RunAtLoad": True,
        "KeepAlive": {"Crashed": True},
        "ThrottleInterval": 5,
        "LimitLoadToSessionType": "Aqua",
        "ProcessType": "Interactive",
    }
    path = home / "Library" / "LaunchAgents" / f"{LABEL}.plist"
    return AutostartEntry(path, plistlib.dumps(settings).decode())


def _start_up_script(roaming: Path, command: tuple[str, ...]) -> AutostartEntry:
    program = command[0].replace("python.exe", "pythonw.exe")
    # The system keeps nothing running there: the program that is started comes back by itself.
    words = ["companion.background.again" if word == "companion" else word for word in command[1:]]
    line = subprocess.list2cmdline([program, *(word for word in words if word != "run")]).replace("%", "%%")
    # Names of users and folders may have any letters: the file is UTF-8 and says so to the shell.
    text = f'@chcp 65001 >nul\r\n@start "" /b {line}\r\n'
    folder = roaming / "Microsoft" / "Windows" / "Start Menu" / "Programs" / "Startup"
    return AutostartEntry(folder / f"{NAME}.cmd", text)


def switch_on(entry: AutostartEntry) -> None:
    """Write `entry`. Raises CompanionError if the file can't be written."""
    try:
        entry.path.parent.mkdir(parents=True, exist_ok=True)
        entry.path.write_text(entry.text, encoding="utf-8", newline="")
        if entry.link is not None:
            entry.link.parent.mkdir(parents=True, exist_ok=True)
            entry.link.unlink(missing_ok=True)
            entry.link.symlink_to(entry.path)
    except OSError as error:
        raise CompanionError(
            _(
                "The start-up entry {path} could not be written ({strerror}).",
                path=entry.path,
                strerror=error.strerror,
            ),
            remedy=_("Look whether the folder is there and yours to write in."),
        ) from error
    _tell(entry.tell)


def switch_off(entry: AutostartEntry) -> bool:
    """Remove `entry`; return whether there was one. Raises CompanionError if it can't be removed."""
    there = entry.path.exists()
    try:
        for path in filter(None, (entry.link, entry.path)):
            path.unlink(missing_ok=True)
    except OSError as error:
        raise CompanionError(
            _(
                "The start-up entry {path} could not be removed ({strerror}).",
                path=entry.path,
                strerror=error.strerror,
            ),
            remedy=_("Remove the file by hand."),
        ) from error
    _tell(entry.tell)
    return there


def _tell(command: tuple[str, ...]) -> None:
    """Run `command` where there is such a program; whether it succeeds does not matter."""
    if command:
        with suppress(OSError, subprocess.TimeoutExpired):
            subprocess.run(command, capture_output=True, timeout=20, check=False)  # noqa: S603
