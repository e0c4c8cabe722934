"""Make the sound and the truth of the sample sessions again from their scripts.

    python -m sample_sessions.make [NAME …]

The same script, the same plan and the same versions of the synthesisers make the same sound. Needs
what the project's `samples` extra installs and Debian's `flite` and `espeak-ng`.
"""

import sys
from pathlib import Path

import numpy as np
import soundfile as sf

from companion.settings.settings import load_settings
from sample_sessions.mix import command_to_room_db, mixed, perform
from sample_sessions.script import read_script
from sample_sessions.truth import truth_toml
from sample_sessions.voices import RATE, Wave

HERE = Path(__file__).parent
MEASURED = ("<!-- measured: written by make.py -->", "<!-- end -->")
"""The lines of a README between which the measured figures stand."""


def make(folder: Path) -> None:
    """Write `sound.ogg` and `truth.toml` into `folder`, and the measured figures into its README."""
    script, settings = read_script(folder), load_settings(folder / "plan.toml")
    plan = settings.plan(settings.session.plan if settings.session else None)
    stems, said = perform(script, settings.listening.cue or "")
    sound, teacher, rest = mixed(stems, said, script.teacher_to_room_db)
    write_sound(folder / "sound.ogg", sound)
    (folder / "truth.toml").write_text(truth_toml(said, plan, settings.commands_in(plan)), encoding="utf-8")
    ratios = command_to_room_db(teacher, rest, said)
    figures = (
        f"Teacher to room, at the commands: {np.median(ratios):.1f} dB "
        f"(median; lowest {min(ratios):.1f} dB, highest {max(ratios):.1f} dB). "
        f"Length: {len(sound) / RATE:.1f} s. Commands: {len(ratios)}."
    )
    _write_between(folder / "README.md", figures)
    print(f"{folder.name}: {figures}")


def write_sound(path: Path, sound: Wave) -> None:
    """Write `sound` as Ogg Vorbis; a sample over full scale raises ValueError rather than clip."""
    if np.abs(sound).max() >= 1.0:
        raise ValueError(f"the sound reaches {np.abs(sound).max():.2f} of full scale")
    with sf.SoundFile(
        path, "w", samplerate=RATE, channels=1, format="OGG", subtype="VORBIS", compression_level=0.5
    ) as file:
        for start in range(0, len(sound), RATE):  # The encoder overflows its stack on one long block.
            file.write(sound[start : start + RATE])


def _write_between(path: Path, text: str) -> None:
    head, rest = path.read_text(encoding="utf-8").split(MEASURED[0])
    tail = rest.split(MEASURED[1])[1]
    path.write_text(f"{head}{MEASURED[0]}\n{text}\n{MEASURED[1]}{tail}", encoding="utf-8")


def main() -> None:
    """Make the samples that the command line names, or all."""
    names = sys.argv[1:] or sorted(path.parent.name for path in HERE.glob("*/script.toml"))
    for name in names:
        make(HERE / name)


if __name__ == "__main__":
    main()
