"""Unpacking archives that were made to do harm, or were harmed."""

import io
import stat
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import CompanionError
from companion.models.unpack import unpack_archive
from tests.models.archives import FILES, model_zip


def _archive(folder: Path, content: bytes) -> Path:
    path = folder / "a-model.zip"
    path.write_bytes(content)
    return path


def _zip_of(member: zipfile.ZipInfo, content: bytes = b"x") -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr(member, content)
    return packed.getvalue()


def test_good_archive_is_unpacked_whole(tmp_path: Path) -> None:
    """Every file of a good archive arrives with its content."""
    unpack_archive(_archive(tmp_path, model_zip()), tmp_path / "out")
    for name, content in FILES.items():
        assert (tmp_path / "out" / "a-model" / name).read_bytes() == content


@pytest.mark.parametrize(
    "name",
    ["../outside", "/outside", "a/../../outside", "C:outside", "a\\..\\outside", "a//b", "a\nb", "a. "],
)
def test_path_that_leads_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    """A name that would leave the folder, or mean something else on another system, is refused."""
    archive = _archive(tmp_path, _zip_of(zipfile.ZipInfo(name)))
    with pytest.raises(CompanionError, match="unsafe name"):
        unpack_archive(archive, tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["a-model.zip"]


@given(name=st.text(alphabet="ab./\\: ", min_size=1, max_size=12))
def test_nothing_is_ever_written_outside(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    """Whatever a member is called, no file appears outside the folder that was named."""
    room = tmp_path_factory.mktemp("room")
    archive = _archive(room, _zip_of(zipfile.ZipInfo(name)))
    try:
        unpack_archive(archive, room / "out")
    except CompanionError:
        assert not (room / "out").exists()
    assert {path.name for path in room.iterdir()} <= {"a-model.zip", "out"}


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR])
def test_link_or_device_is_refused(tmp_path: Path, kind: int) -> None:
    """A link, a pipe or a device in an archive is refused."""
    member = zipfile.ZipInfo("a-model/am")
    member.external_attr = (kind | 0o777) << 16
    with pytest.raises(CompanionError, match="link"):
        unpack_archive(_archive(tmp_path, _zip_of(member, b"/etc")), tmp_path / "out")


def test_more_than_the_limit_is_refused(tmp_path: Path) -> None:
    """An archive that would unpack to more than the limit is refused before anything is written."""
    packed = model_zip({"am/final.mdl": bytes(1_000_000)})
    with pytest.raises(CompanionError, match="would unpack"):
        unpack_archive(_archive(tmp_path, packed), tmp_path / "out", most_bytes=999_999)
    assert not (tmp_path / "out").exists()


def test_size_that_lies_is_noticed(tmp_path: Path) -> None:
    """An archive that states a smaller size than it holds is refused, and nothing of it stays."""
    packed = model_zip({"am/final.mdl": bytes(100_000)})
    lying = packed.replace((100_000).to_bytes(4, "little"), (1_000).to_bytes(4, "little"))
    assert lying != packed
    with pytest.raises(CompanionError, match="not a whole zip"):
        unpack_archive(_archive(tmp_path, lying), tmp_path / "out", most_bytes=50_000)
    assert not (tmp_path / "out").exists()


def test_same_name_twice_is_refused(tmp_path: Path) -> None:
    """Two members that would be one file on a system without case are refused."""
    packed = model_zip({"am/final.mdl": b"1", "AM/final.mdl": b"2"})
    with pytest.raises(CompanionError, match="twice"):
        unpack_archive(_archive(tmp_path, packed), tmp_path / "out")


@given(cut=st.floats(min_value=0.0, max_value=0.999))
def test_part_of_an_archive_is_refused(tmp_path_factory: pytest.TempPathFactory, cut: float) -> None:
    """An archive cut off anywhere is refused in plain words, and nothing of it stays."""
    room = tmp_path_factory.mktemp("room")
    whole = model_zip()
    with pytest.raises(CompanionError, match="not unpacked"):
        unpack_archive(_archive(room, whole[: int(len(whole) * cut)]), room / "out")
    assert not (room / "out").exists()


def test_changed_bytes_are_noticed(tmp_path: Path) -> None:
    """A byte that changed inside a member fails its check sum, and nothing of the archive stays."""
    whole = bytearray(model_zip({"am/final.mdl": b"\0B" + b"model" * 500}))
    whole[60] ^= 0xFF
    with pytest.raises(CompanionError, match="not a whole zip"):
        unpack_archive(_archive(tmp_path, bytes(whole)), tmp_path / "out")
    assert not (tmp_path / "out").exists()
