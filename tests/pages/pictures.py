"""Makes the pictures of the pages that the README shows: python -m tests.pages.pictures."""

import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from companion.clock import ComputerClock
from companion.lesson import event as ev
from companion.pages.port import LogPort
from companion.pages.serve import PageServer
from companion.paths import Home
from tests.pages.conftest import CHROMIUM
from tests.pages.lessons import BODIES, CLOSE, write_lesson

FOLDER = Path(__file__).parents[2] / "companion" / "pages" / "pictures"


def main() -> None:
    """Take a picture of the live, review, reflection and note page of one lesson."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home = Home(Path(folder)).create()
        lesson = write_lesson(home.log)
        running = write_lesson(home.log, *BODIES, class_group="2-Birch")
        settled = write_lesson(home.log, *BODIES, CLOSE, ev.SelfRated("went well", (14, 6, 2)))
        server = PageServer(home, LogPort(home.log, ComputerClock().wall), ComputerClock().wall).start()
        chromium = playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        page = chromium.new_context(viewport={"width": 1280, "height": 720}).new_page()
        page.goto(server.address())
        for name, path in {
            "live": f"live/{running.id}/projector",
            "reflection": f"reflection/{settled.id}",
            "review": f"review/{lesson.id}",
            "note": f"note/{settled.id}",
        }.items():
            page.goto(server.base + path)
            page.wait_for_load_state("load")
            if (here := page.get_by_role("button", name="Show it here")).is_visible():
                here.click()
            page.evaluate("window.scrollTo(0, 0)")
            page.screenshot(path=FOLDER / f"{name}.png")
        chromium.close()
        server.stop()


if __name__ == "__main__":
    main()
