"""`companion pages` as its user runs it."""

import os
import re
import signal
import subprocess
import sys
import threading
from pathlib import Path

import httpx

from companion.errors import CompanionError
from companion.paths import Home
from tests.pages.lessons import write_lesson


def test_the_pages_are_served_until_the_user_ends_them(tmp_path: Path) -> None:
    """The printed address opens the review of the session that was named; Ctrl+C ends without a complaint."""
    home = Home(tmp_path / "home").create()
    session = write_lesson(home.log)
    program = [sys.executable, "-X", "faulthandler", "-m", "companion"]
    command = [*program, "--home", str(home.folder), "pages", session.id[:20]]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert running.stdout
        said = running.stdout.readline()
        address = re.search(r"http://\S+", said)
        assert address, said
        with httpx.Client(follow_redirects=True, trust_env=False) as client:
            answer = client.get(address[0])
        assert answer.status_code == 200
        assert answer.url.path.endswith(f"/review/{session.id}")
        assert "What needs a look" in answer.text
        kept = home.run / "pages.json"
        assert os.name != "posix" or kept.stat().st_mode & 0o077 == 0
    finally:
        running.send_signal(signal.SIGINT)
        # One that hangs is made to say where.
        hangs = threading.Timer(60, running.send_signal, [signal.SIGABRT])
        hangs.start()
        _, complaint = running.communicate()
        hangs.cancel()
    assert (running.returncode, complaint) == (0, "")


def test_an_unknown_session_is_told_in_a_sentence(tmp_path: Path) -> None:
    """Nothing is served, and the user reads what to do."""
    command = [sys.executable, "-m", "companion", "--home", str(tmp_path), "pages", "01ABC"]
    told = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    assert told.returncode == CompanionError.exit_code
    assert "There is no session '01ABC' in the log" in told.stderr
    assert "Traceback" not in told.stderr
