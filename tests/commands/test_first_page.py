"""`companion` without a command: it starts what is to run, and opens the first page."""

import re
import urllib.request
from pathlib import Path

from companion.background.control import NotRunningError, ask
from companion.commands.first_page import NO_DISPLAY
from companion.paths import Home
from companion.settings.settings import load_settings
from tests.commands.conftest import Run
from tests.waiting import until


def address_in(said: str) -> str:
    """Return the address that was told."""
    found = re.search(r"http://\S+", said)
    assert found, said
    return found[0]


def page(address: str) -> str:
    """Return the page that an address opens, without a browser."""
    with urllib.request.urlopen(address) as answer:
        return str(answer.read().decode())


def test_it_opens_the_way_in_and_mends_what_can_not_be_used(
    run: Run, call: Run, no_screen: None, tmp_path: Path
) -> None:
    """From an empty home; once more while it runs; and with broken settings, until they are mended."""
    assert no_screen is None
    home = Home(tmp_path / "home")
    try:
        said = run().stdout
        assert NO_DISPLAY in said
        assert "whose rules come first" in page(address_in(said))
        again = call().stdout
        assert "The companion runs." not in again
        assert "whose rules come first" in page(address_in(again))
        call("stop")
        good = home.settings.read_text(encoding="utf-8")
        home.settings.write_text(good.replace("minutes = 3", 'minutes = "soon"', 1), encoding="utf-8")
        broken = run().stdout
        assert "The companion runs." not in broken
        assert "The settings can't be used as they are." in broken
        assert "soon" in page(address_in(broken))
        assert "soon" in ask(home.control, {"do": "status"})["trouble"]
        assert "Mend them" in call("open", "4-Hazel", code=2).stderr
        home.settings.write_text(good, encoding="utf-8")
        assert until(lambda: _runs(home), limit_s=60)
        assert load_settings(home.settings).school.name == ""
    finally:
        call("stop", code=None)


def _runs(home: Home) -> bool:
    """Whether lessons can be held by now."""
    try:
        return "session" in ask(home.control, {"do": "status"})
    except NotRunningError:
        return False
