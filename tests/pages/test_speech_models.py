"""Speech models on the companion's own page: fetched over good and bad lines, and brought in a file."""

import hashlib
import random
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest
import trustme
from playwright.sync_api import Locator, Page, expect

from companion.models import manifest
from companion.models.install import get_model
from companion.models.places import find_model
from companion.pages.exercises import fetched_model
from companion.paths import Home
from tests.models.archives import FILES, model_zip
from tests.models.servers import Behaviour, certificate, serving

NAME = "vosk-model-small-fr-9.9"
ARCHIVE = model_zip(FILES | {"README": random.Random(0).randbytes(100_000)}, top=f"{NAME}/")
ENTRY = f"""
[[model]]
name = "{NAME}"
language = "fr"
licence = "Apache-2.0"
origin = "made for this test"
address = "ADDRESS"
archive_mb = 1
unpacked_mb = 1
tested = "no"
"""


@pytest.fixture
def behaviour(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Behaviour]:
    """Serve a model over an encrypted address that the list of models names; say how it is served."""
    for name in ("HTTPS_PROXY", "ALL_PROXY", "https_proxy", "all_proxy"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(fetched_model, "get_model", partial(get_model, pause_s=0.0))
    authority = trustme.CA()
    authority.cert_pem.write_to_path(str(tmp_path / "authority.pem"))
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    served = Behaviour(ARCHIVE)
    with serving(served, certificate(authority)) as address, listed(tmp_path, monkeypatch, address):
        yield served
        served.go_on.set()


@contextmanager
def listed(folder: Path, monkeypatch: pytest.MonkeyPatch, address: str) -> Iterator[None]:
    """Let the list of models name one, and `address` for it."""
    (folder / "manifest.toml").write_text(ENTRY.replace("ADDRESS", address), encoding="utf-8")
    monkeypatch.setattr(manifest, "bundled", lambda _name: folder)
    manifest.known_models.cache_clear()
    yield
    manifest.known_models.cache_clear()


def models_of(page: Page) -> Locator:
    """Return where the page tells of speech models."""
    return page.locator("#speech-models")


def fetch(page: Page) -> None:
    """Press the button that fetches the model."""
    page.get_by_role("button", name="Fetch it").click()


def test_a_model_is_fetched_while_the_page_tells_how_far_it_is(
    page: Page, home: Home, behaviour: Behaviour
) -> None:
    """Half of it is told as half, no second fetch begins meanwhile; then it is here, and goes by a button."""
    behaviour.stop_at = len(ARCHIVE) // 2
    page.goto("running")
    other = page.context.new_page()
    other.route("**/running/stream", lambda route: route.abort())
    other.goto("running")
    fetch(page)
    expect(models_of(page)).to_contain_text(f"{NAME}: 50 % is here.")
    expect(page.get_by_role("progressbar", name=NAME)).to_have_js_property("value", 0.5)
    expect(page.get_by_role("button", name="Fetch it")).to_have_count(0)
    fetch(other)
    expect(other.locator("#alert")).to_contain_text("is being fetched already.")
    assert find_model(NAME, home.models) is None
    behaviour.go_on.set()
    expect(models_of(page)).to_contain_text(f"{NAME} is installed. Its checksum: no trustworthy")
    assert len(behaviour.asked) == 1
    assert find_model(NAME, home.models) is not None
    page.get_by_role("button", name="Remove").click()
    expect(page.locator("#told")).to_have_text(f"{NAME} is gone.")
    expect(models_of(page)).not_to_contain_text("is installed")
    assert find_model(NAME, home.models) is None


def test_a_line_that_breaks_is_told_and_the_next_try_goes_on(
    page: Page, home: Home, behaviour: Behaviour
) -> None:
    """Four times it breaks: nothing is installed, what has come is kept; the button goes on from there."""
    behaviour.break_after = [1_000, 500, 0, 0]
    page.goto("running")
    fetch(page)
    expect(models_of(page)).to_contain_text("could not be fetched: the line broke.")
    expect(models_of(page)).to_contain_text("What has arrived is kept, and the next try goes on from there.")
    expect(models_of(page)).to_contain_text("Fetch it again later, or take it from a file")
    assert find_model(NAME, home.models) is None
    fetch(page)
    expect(models_of(page)).to_contain_text("is installed")
    assert behaviour.asked[-1] == "bytes=1500-"


def test_another_archive_than_the_first_is_thrown_away(page: Page, home: Home, behaviour: Behaviour) -> None:
    """The checksum of the first fetch holds for every later one; what is no archive installs nothing."""
    behaviour.content = b"no archive at all"
    page.goto("running")
    fetch(page)
    expect(models_of(page)).to_contain_text("it is not a whole zip archive. Nothing was installed.")
    behaviour.content = ARCHIVE
    fetch(page)
    expect(models_of(page)).to_contain_text("is installed")
    page.get_by_role("button", name="Remove").click()
    behaviour.content = model_zip(top=f"{NAME}/")
    fetch(page)
    pinned = hashlib.sha256(ARCHIVE).hexdigest()
    expect(models_of(page)).to_contain_text(f"the checksum pinned at the first fetch is {pinned}.")
    expect(models_of(page)).to_contain_text("It was thrown away and nothing was installed.")
    assert find_model(NAME, home.models) is None


def test_without_a_network_it_comes_from_a_file(
    page: Page, home: Home, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, behaviour: Behaviour
) -> None:
    """In Spanish: nobody answers; a file that is no model is refused, and the right one taken."""
    assert behaviour.asked == []
    home.settings.write_text('[words]\nlanguage = "es"\n', encoding="utf-8")
    files = tmp_path / "stick"
    files.mkdir()
    (files / f"{NAME}.zip").write_bytes(ARCHIVE)
    (files / "notes.zip").write_bytes(b"no archive at all")
    with listed(tmp_path, monkeypatch, "https://127.0.0.1:9/a-model.zip"):
        page.goto("running")
        page.get_by_role("button", name="Descargar").click()
        expect(models_of(page)).to_contain_text(
            "No se pudo descargar https://127.0.0.1:9/a-model.zip: no hay"
        )
        page.locator("#from-file summary").click()
        page.locator("#from-file input[type=file]").set_input_files(files / "notes.zip")
        page.locator("#from-file button").click()
        expect(page.locator("#alert")).to_contain_text("No se instaló nada.")
        page.locator("#from-file input[type=file]").set_input_files(files / f"{NAME}.zip")
        page.locator("#from-file button").click()
        expect(page.locator("#told")).to_contain_text(f"{NAME} está instalado")
        assert find_model(NAME, home.models) is not None
        assert [one.name for one in home.models.iterdir() if one.name.startswith(".")] == [".receipts"]
