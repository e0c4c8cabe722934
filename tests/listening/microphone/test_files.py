"""Reading sound files."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from companion.errors import CompanionError
from companion.listening.microphone.files import blocks, duration_s, whole


def tone(seconds: float, rate: int, channels: int) -> np.ndarray:
    """Return a 440 Hz tone of amplitude 0.5."""
    wave = 0.5 * np.sin(2 * np.pi * 440 * np.arange(int(seconds * rate)) / rate)
    return np.repeat(wave[:, None], channels, axis=1)


@pytest.mark.parametrize(
    ("name", "rate", "channels", "subtype"),
    [
        ("eight.wav", 8_000, 1, "PCM_U8"),
        ("studio.wav", 96_000, 2, "PCM_24"),
        ("floats.wav", 44_100, 6, "FLOAT"),
        ("lossless.flac", 48_000, 2, "PCM_16"),
        ("lossy.ogg", 22_050, 1, "VORBIS"),
    ],
)
def test_any_rate_width_and_channel_count_becomes_the_same_sound(
    tmp_path: Path, name: str, rate: int, channels: int, subtype: str
) -> None:
    """A tone keeps its length, level and pitch whatever the file's rate, width and channels."""
    path = tmp_path / name
    soundfile.write(path, tone(2.0, rate, channels), rate, subtype=subtype)
    sound = whole(path)
    assert sound.dtype == np.int16
    assert abs(len(sound) - 32_000) <= 2
    assert abs(np.abs(sound[4_000:-4_000]).max() - 16_384) < 700
    spectrum = np.abs(np.fft.rfft(sound[:16_000].astype(float)))
    assert abs(int(spectrum.argmax()) - 440) <= 1
    assert duration_s(path) == pytest.approx(2.0, abs=0.001)


def test_blocks_put_together_are_the_whole(tmp_path: Path) -> None:
    """Blocks of any length hold together exactly the same samples."""
    path = tmp_path / "tone.wav"
    soundfile.write(path, tone(1.3, 44_100, 1), 44_100)
    small, large = (np.concatenate(list(blocks(path, block_ms=ms))) for ms in (7, 500))
    assert len(small) == len(large)
    assert np.abs(small.astype(int) - large).max() <= 1


def test_opposite_and_full_scale_samples_do_not_wrap_round(tmp_path: Path) -> None:
    """The loudest samples stay the loudest, with their sign."""
    path = tmp_path / "square.wav"
    soundfile.write(path, np.repeat([1.0, -1.0], 4_000), 16_000, subtype="FLOAT")
    sound = whole(path)
    assert sound[:3_000].min() > 30_000
    assert sound[5_000:].max() < -30_000


@pytest.mark.parametrize("kind", ["WAV", "FLAC"])
def test_a_file_that_breaks_off_gives_what_it_holds_and_says_so(tmp_path: Path, kind: str) -> None:
    """Half a file yields about half of its sound, with a warning that names it."""
    path = tmp_path / f"broken.{kind.lower()}"
    rng = np.random.default_rng(1)
    soundfile.write(path, rng.uniform(-0.5, 0.5, 64_000), 16_000, subtype="PCM_16", format=kind)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    said: list[str] = []
    sound = whole(path, warn=said.append)
    assert 24_000 < len(sound) <= 34_000
    assert len(said) == 1
    assert str(path) in said[0]


@pytest.mark.parametrize(
    ("content", "what"),
    [(b"", "is empty"), (b"RIFF", "not a sound file"), (b"lesson notes\n" * 90, "not a sound file")],
)
def test_what_is_no_sound_is_told_plainly(tmp_path: Path, content: bytes, what: str) -> None:
    """An empty file, a stump and a text each get a sentence that names the file."""
    path = tmp_path / "lesson.wav"
    path.write_bytes(content)
    with pytest.raises(CompanionError, match=what) as caught:
        list(blocks(path))
    assert str(path) in str(caught.value)


def test_a_raw_file_is_told_plainly(tmp_path: Path) -> None:
    """Samples without a header are refused, since nothing says what they are."""
    path = tmp_path / "lesson.raw"
    path.write_bytes(bytes(3_200))
    with pytest.raises(CompanionError, match="not a sound file"):
        duration_s(path)


def test_a_header_without_sound_is_told_plainly(tmp_path: Path) -> None:
    """A sound file of no length is an error, and not a lesson without marks."""
    path = tmp_path / "nothing.wav"
    soundfile.write(path, np.zeros(0), 16_000)
    with pytest.raises(CompanionError, match="holds no sound"):
        list(blocks(path))


def test_a_missing_file_is_told_plainly(tmp_path: Path) -> None:
    """A name that leads nowhere, or to a folder, is told with the name."""
    for path in (tmp_path / "no.wav", tmp_path):
        with pytest.raises(CompanionError, match="no sound file"):
            duration_s(path)
