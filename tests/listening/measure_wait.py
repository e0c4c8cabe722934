"""Where the time from the end of a phrase to its decision goes, in time of sound.

`python -m tests.listening.measure_wait [--block-ms 30] [--seed 0]`. No clock is read: the spotter is given
sound in blocks as long as a microphone's, and it is counted how much of it had been given when a phrase was
decided, so that the figures are the same on a busy computer. The phrases are those of the sample sessions,
heard on the first day, and the starter's commands in voices of flite and espeak-ng, clean and beneath babble
at 10 dB, heard on the first day and after a rehearsal with five takes of the same voice. What a lesson adds
is the processor's time for the last look, and what `companion bench-live` measures: queues and the disk.
"""

import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Console
from rich.table import Table

from companion.bench.conditions import LEAD
from companion.listening.candidate import Candidate
from companion.listening.detection.takes import babble, noisy, speech_in
from companion.listening.detection.unenrolled_spotter import UnenrolledSpotter
from companion.listening.microphone.files import whole
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import NewSpotter
from companion.listening.voice.cues import synthetic_cue
from companion.listening.voice.enrolled_engine import learn_voice, new_spotter
from companion.samples.sample import bundled_sample, sample_names
from tests.listening.measure_commands import vocabulary
from tests.listening.speakers import say

VOICES = ("flite:rms", "espeak:en-gb+f2")
PACES = (0.9, 1.0, 1.1, 1.15, 0.95)
TOLERANCE_MS = 1_500
"""A phrase is decided by what begins so near to where it began."""
AROUND_MS = (4_000, 2_000)
"""So much of a sample session is heard before each phrase and after it."""
MS = SAMPLE_RATE // 1000


@dataclass(frozen=True, slots=True)
class Wait:
    """What passed between the end of a phrase and its decision, in milliseconds of sound."""

    found_end: float
    """From the true end to where the network lays it."""
    settling: float
    """From there to the end of the sound that was looked at last: what the rules wait for, and for a look."""
    handing: float
    """From there to the sound that had been given by then: frames of the gate, blocks of the microphone."""

    @property
    def total(self) -> float:
        """All of it."""
        return self.found_end + self.settling + self.handing


@dataclass(frozen=True, slots=True)
class Said:
    """A sound, and where phrases begin and end in it (milliseconds)."""

    sound: Sound
    phrases: tuple[tuple[int, int], ...]


def samples() -> Iterator[Said]:
    """Return the phrases of the sample sessions, with some of the lesson around each."""
    before, after = AROUND_MS
    for name in sample_names():
        sample = bundled_sample(name)
        sound = whole(sample.sound)
        for one in sample.truth:
            first = one.begin_ms - before
            cut = sound[max(0, first) * MS : (one.end_ms + after) * MS]
            yield Said(cut, ((one.begin_ms - max(0, first), one.end_ms - max(0, first)),))


def commands(voice: str, snr_db: float | None, seed: int) -> Iterator[Said]:
    """Return the starter's commands in one voice."""
    words = vocabulary()
    for text in words.phrases:
        clip = say(f"{words.cue}, {text}", voice)
        begin, end = speech_in(clip, longest_pause_s=1.0)
        rng = np.random.default_rng((seed, *text.encode(), len(clip)))
        sound = np.concatenate((np.zeros(LEAD, np.int16), clip, np.zeros(LEAD, np.int16)))
        sound = sound + np.rint(rng.normal(0, 3, len(sound))).astype(np.int16)
        if snr_db is not None:
            sound = noisy(sound, babble(rng, len(sound)), snr_db)
        yield Said(sound, (((LEAD + begin) // MS, (LEAD + end) // MS),))


def waits(said: Said, new: NewSpotter, block: int) -> Iterator[Wait]:
    """Return how long each phrase waited that fired."""
    spotter, came = new(), list[tuple[int, Candidate]]()
    for at in range(0, len(said.sound), block):
        given = min(at + block, len(said.sound))
        came += [(given, found) for found in spotter.hear(said.sound[at : at + block]) if found.fired]
    for begin_ms, end_ms in said.phrases:
        near = [one for one in came if abs(one[1].begin_ms - begin_ms) < TOLERANCE_MS]
        if near:
            given, found = near[0]
            yield Wait(found.end_ms - end_ms, found.decided_ms - found.end_ms, given / MS - found.decided_ms)


def row(title: str, saids: Sequence[Said], new: NewSpotter, block: int) -> tuple[str, ...]:
    """Return a row of the table."""
    began_s = time.process_time()
    waited = [wait for said in saids for wait in waits(said, new, block)]
    share = (time.process_time() - began_s) / sum(len(said.sound) / SAMPLE_RATE for said in saids)
    spoken = sum(len(said.phrases) for said in saids)
    parts = ("found_end", "settling", "handing", "total")
    middles = (f"{np.median([getattr(wait, part) for wait in waited]):.0f}" for part in parts)
    late = f"{np.percentile([wait.total for wait in waited], 95):.0f}"
    return (title, f"{len(waited)} of {spoken}", *middles, late, f"{share:.3f}")


def first_day() -> NewSpotter:
    """Return the unlearnt engine with the starter's cue."""
    words = vocabulary()
    cue = synthetic_cue(words.cue or "", None)
    assert cue is not None
    return lambda: UnenrolledSpotter(words, [cue.detector])


def rehearsed(voice: str) -> NewSpotter:
    """Return the engine that learnt five takes of a voice."""
    words = vocabulary()
    cue = words.cue or ""
    return new_spotter(words, learn_voice(words, {cue: [say(cue, voice, pace) for pace in PACES]}))


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--block-ms", type=int, default=30, help="as long as the microphone's are")
    options.add_argument("--seed", type=int, default=0)
    chosen = options.parse_args()
    block = chosen.block_ms * MS
    table = Table("ms, medians", "decided", "end as found", "settling", "handing", "in all", "95 %", "core")
    table.add_row(*row("sample sessions, first day", list(samples()), first_day(), block))
    for snr_db in (None, 10.0):
        for voice in VOICES:
            saids = list(commands(voice, snr_db, chosen.seed))
            title = f"{voice}, {'clean' if snr_db is None else '10 dB'}"
            table.add_row(*row(f"{title}, first day", saids, first_day(), block))
            table.add_row(*row(f"{title}, rehearsed", saids, rehearsed(voice), block))
    Console(width=140).print(table)


if __name__ == "__main__":
    main()
