"""Pictures for routines and carry-overs: real files through a real library."""

import io
import json
from pathlib import Path

import pytest
from PIL import Image

from companion.errors import CompanionError
from companion.settings.pictures import HIGHEST, WIDEST, Pictures, of_carry_over, of_routine
from tests.systems import is_private

RACK = of_routine("cleanup", "tools back")


def photo(width: int = 3000, height: int = 2000, kind: str = "JPEG", turned: int = 1) -> bytes:
    """Return a photo with all that a camera writes beside it; turned: the EXIF orientation."""
    image = Image.new("RGB", (width, height), "darkgreen")
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x8825] = turned, "a camera", {1: "N", 2: (51.0, 3.0, 0.0)}
    file = io.BytesIO()
    image.save(file, kind, exif=exif, comment="taken at school")
    return file.getvalue()


@pytest.fixture
def pictures(tmp_path: Path) -> Pictures:
    """Return an empty shelf."""
    return Pictures(tmp_path / "pictures")


def test_a_photo_is_kept_small_upright_and_without_what_the_camera_wrote(
    pictures: Pictures, tmp_path: Path
) -> None:
    """No place, no time, no camera, no comment; private to the user."""
    pictures.put(RACK, photo(turned=6), child_seen=False)
    file = pictures.file(pictures.name_of(RACK))
    assert file is not None
    with Image.open(file) as kept:
        assert kept.size == (800, 1200)
        assert dict(kept.getexif()) == {}
        assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert b"a camera" not in file.read_bytes()
    assert b"taken at school" not in file.read_bytes()
    for path in (tmp_path / "pictures").iterdir():
        assert is_private(path)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "WEBP"])
def test_usual_kinds_of_pictures_are_taken(pictures: Pictures, kind: str) -> None:
    """A small one is not made larger."""
    file = io.BytesIO()
    Image.new("RGBA" if kind == "PNG" else "RGB", (300, 200)).save(file, kind)
    pictures.put(RACK, file.getvalue(), child_seen=False)
    kept = pictures.file(pictures.name_of(RACK))
    assert kept is not None
    with Image.open(kept) as image:
        assert image.size == (300, 200)
    assert image.size <= (WIDEST, HIGHEST)


@pytest.mark.parametrize("data", [b"", b"no picture", photo()[:200], b"\x89PNG\r\n\x1a\n" + bytes(40)])
def test_what_is_no_picture_is_refused_and_the_one_before_stays(pictures: Pictures, data: bytes) -> None:
    """In plain words."""
    pictures.put(RACK, photo(), child_seen=False)
    before = pictures.name_of(RACK)
    with pytest.raises(CompanionError, match="no picture that can be read"):
        pictures.put(RACK, data, child_seen=False)
    assert pictures.name_of(RACK) == before


def test_a_picture_with_a_child_in_it_is_refused_with_the_caution(pictures: Pictures, tmp_path: Path) -> None:
    """Nothing of it is on the disk."""
    with pytest.raises(CompanionError, match="policy and local law"):
        pictures.put(RACK, photo(), child_seen=True)
    assert not (tmp_path / "pictures").exists()


def test_a_picture_is_replaced_and_taken_away(pictures: Pictures, tmp_path: Path) -> None:
    """One file may be of two things; it goes with the last of them."""
    tap = of_carry_over("01JD")
    for what in (RACK, tap):
        pictures.put(what, photo(), child_seen=False)
    name = pictures.name_of(RACK)
    pictures.take_away(RACK)
    assert (pictures.name_of(RACK), pictures.name_of(tap)) == ("", name)
    pictures.take_away(tap)
    assert [path.name for path in (tmp_path / "pictures").iterdir()] == ["pictures.json"]
    assert pictures.file("../sessions.db") is None


def test_a_list_that_is_damaged_is_an_empty_one(pictures: Pictures, tmp_path: Path) -> None:
    """No page fails for a picture."""
    pictures.put(RACK, photo(), child_seen=False)
    (tmp_path / "pictures" / "pictures.json").write_text("{", encoding="utf-8")
    assert pictures.name_of(RACK) == ""


@pytest.mark.parametrize("name", ["../outside.jpg", "x" * 300, {"a": 1}, None, "0" * 20 + ".jpg/.."])
def test_a_list_that_was_written_by_hand_leads_to_no_other_file(
    pictures: Pictures, tmp_path: Path, name: object
) -> None:
    """Nothing is shown for it, and taking it away deletes nothing."""
    pictures.put(RACK, photo(), child_seen=False)
    (tmp_path / "outside.jpg").write_bytes(b"kept")
    (tmp_path / "pictures" / "pictures.json").write_text(json.dumps({RACK: name}))
    assert pictures.name_of(RACK) == ""
    assert pictures.file(str(name)) is None
    pictures.take_away(RACK)
    assert (tmp_path / "outside.jpg").read_bytes() == b"kept"
