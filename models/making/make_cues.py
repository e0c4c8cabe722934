"""Makes `companion/listening/voice/cues/`: the suggested cues, learnt from some dozens of synthetic voices.

The voices are those of `detection/synthesiser.py` and of `synthetic_takes.py`; `listening/sources.md` lists
them. It is needed whenever the acoustic model or the bundled speech changes.
Usage: python -m models.making.make_cues [CUE …]
"""

import sys
from collections.abc import Sequence
from pathlib import Path

from companion.listening.detection.learning import bundled_others
from companion.listening.detection.synthesiser import say
from companion.listening.voice.cues import SUGGESTED, cue_file, learn_cue, write_cue
from models.making.synthetic_takes import other_takes

TARGET = Path(__file__).parents[2] / "companion/listening/voice/cues"


def main(cues: Sequence[str]) -> None:
    """Let the voices say each cue, learn it, and store what was learnt."""
    others = bundled_others()
    for cue in cues:
        takes = [*say(cue), *other_takes(cue)]
        path = write_cue(TARGET / cue_file(cue), learn_cue(cue, takes, others))
        path.chmod(0o644)
        print(f"{cue}: {len(takes)} voices, {path.stat().st_size / 1e3:.0f} kB", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:] or SUGGESTED)
