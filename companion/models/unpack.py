"""Unpacks an archive of a model without trusting anything that it says."""

import shutil
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from companion.errors import CompanionError
from companion.language import _

MOST_BYTES = 4_000_000_000
"""More than any small model; the largest public Vosk models unpack to about this."""
MOST_FILES = 2_000


def unpack_archive(archive: Path, folder: Path, *, most_bytes: int = MOST_BYTES) -> None:
    """Unpack the zip `archive` into `folder`, which must not exist yet.

    Every name, link and size is checked before the first byte is written. Raises CompanionError
    when the archive is damaged, unsafe or too large; `folder` is then gone again. Raises OSError
    when the disk refuses.
    """
    try:
        with zipfile.ZipFile(archive) as opened:
            members = [member for member in opened.infolist() if not member.is_dir()]
            _check_members(archive, members, most_bytes)
            try:
                folder.mkdir(parents=True)
                for member in members:
                    _write(opened, member, folder)
            except BaseException:
                shutil.rmtree(folder, ignore_errors=True)
                raise
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, UnicodeDecodeError) as error:
        raise _refused(archive, _("it is not a whole zip archive")) from error


def _check_members(archive: Path, members: list[zipfile.ZipInfo], most_bytes: int) -> None:
    if not members:
        raise _refused(archive, _("it is empty"))
    if len(members) > MOST_FILES:
        raise _refused(archive, _("it holds more than {most_files} files", most_files=MOST_FILES))
    if sum(member.file_size for member in members) > most_bytes:
        raise _refused(archive, _("it would unpack to more than {most} MB", most=most_bytes // 1_000_000))
    seen: set[str] = set()
    for member in members:
        name = member.filename
        if not _is_safe_name(name) or "\0" in member.orig_filename:
            raise _refused(archive, _("it holds a file with an unsafe name ({name})", name=repr(name)))
        if name.casefold() in seen:
            raise _refused(archive, _("it holds the file {name} twice", name=name))
        seen.add(name.casefold())
        kind = stat.S_IFMT(member.external_attr >> 16)
        if kind not in (0, stat.S_IFREG):
            raise _refused(archive, _("{name} is a link or a device, not a file", name=name))
        if member.flag_bits & 0x1:
            raise _refused(archive, _("it is locked with a password"))


def _is_safe_name(name: str) -> bool:
    path = PurePosixPath(name)
    return not (
        path.is_absolute()
        or any(part in ("", ".", "..") or part.endswith((" ", ".")) for part in name.split("/"))
        or any(character in name for character in '\\:*?"<>|')
        or any(ord(character) < 32 for character in name)
    )


def _write(opened: zipfile.ZipFile, member: zipfile.ZipInfo, folder: Path) -> None:
    # zipfile reads no more than the size that the directory states and checks the CRC at the end.
    target = folder.joinpath(*PurePosixPath(member.filename).parts)
    target.parent.mkdir(parents=True, exist_ok=True)
    with opened.open(member) as source, target.open("xb") as file:
        shutil.copyfileobj(source, file, 1 << 20)


def _refused(archive: Path, why: str) -> CompanionError:
    return CompanionError(
        _("{name} was not unpacked: {why}.", name=archive.name, why=why),
        safe=_("Nothing was installed."),
        remedy=_("Fetch the archive again from its makers."),
    )
