"""What a figure is reported on shares nothing with what is learnt from or fitted on."""

import re
from pathlib import Path

import pytest

from companion.bench.conditions import CLASSROOM, ECHOES
from models.making.kept_apart import checksum, checksums, learnable
from models.making.other_speech import prompt_files

COMPANION = Path(__file__).parents[2] / "companion"
TABLE = (COMPANION / "listening" / "sources.md").read_text("utf-8")
ROW = re.compile(r"^\| `(\S+\.(?:ogg|flac))` \| ([0-9a-f]{64}) \| (\w+) \|$", re.MULTILINE)


def test_every_bundled_sound_stands_in_the_table_with_what_it_is_for() -> None:
    """Name and checksum; sounds of the sample sessions are a lesson's and not an ear's."""
    told = {name: sum_ for name, sum_, _ in ROW.findall(TABLE)}
    bundled = [path for kind in ("*.ogg", "*.flac", "*.wav") for path in COMPANION.rglob(kind)]
    assert told == {str(path.relative_to(COMPANION)): checksum(path) for path in bundled}


def test_the_benchmarks_noise_and_rooms_are_kept_apart_from_learning() -> None:
    """Their checksums are listed; that of no sound for learning is."""
    reported = {sum_ for _, sum_, what in ROW.findall(TABLE) if what == "reporting"}
    learnt = {sum_ for _, sum_, what in ROW.findall(TABLE) if what == "learning"}
    assert reported == {checksum(COMPANION / "bench" / name) for name in (CLASSROOM, ECHOES)}
    assert reported <= checksums()
    assert not learnt & checksums()
    assert learnable([COMPANION / "bench" / CLASSROOM, COMPANION / "listening/detection/babble.ogg"]) == [
        COMPANION / "listening/detection/babble.ogg"
    ]


def test_what_is_kept_apart_is_not_learnt_from(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A recording that is listed is left out, under whatever name it lies among the prompts."""
    folder = tmp_path / "en_US_f_Allison"
    folder.mkdir()
    (folder / "renamed.g722").write_bytes((COMPANION / "bench" / CLASSROOM).read_bytes())
    (folder / "prompt.g722").write_bytes(bytes(5_000))
    monkeypatch.setattr("models.making.other_speech.PROMPTS", tmp_path)
    assert [path.name for path in prompt_files(folder.name)] == ["prompt.g722"]
