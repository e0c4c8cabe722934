"""What a benchmark folder says of itself."""

from pathlib import Path

import soundfile

from companion.bench.folder import read_folder
from tests.listening import speakers


def test_more_phrases_are_listened_for_than_are_said(tmp_path: Path) -> None:
    """What stands under `phrases` competes with what is said in the clips, each once."""
    clip = tmp_path / "clips" / "praise" / "one.flac"
    clip.parent.mkdir(parents=True)
    soundfile.write(clip, speakers.say("praise"), 16_000)
    told = 'cue = "velvet compass"\nphrases = ["reminder", "praise"]\n'
    (tmp_path / "bench.toml").write_text(told, "utf-8")
    vocabulary = read_folder(tmp_path).vocabulary
    assert (vocabulary.phrases, vocabulary.cue) == (("praise", "reminder"), "velvet compass")
