"""Makes the benchmark's own noise and rooms, which nothing is learnt from: `classroom.ogg` and `echoes.flac`.

Twelve people talk at once, each in a place of one room, every other one made smaller, as children are, by
playing faster (pitch and formants rise together). Chairs are pushed, dishes clink, water runs now and then.
The echoes are those of other rooms, by the image method (Allen and Berkley, Image method for efficiently
simulating small-room acoustics, J. Acoust. Soc. Am. 65, 1979) of the package `pyroomacoustics`.

Usage: python -m models.making.make_bench_noise FOLDER, which holds recordings of voices that are kept apart
for this; `listening/sources.md` says which those in use were.
"""

import sys
from pathlib import Path

import numpy as np
import pyroomacoustics
import soundfile
import soxr

from companion.bench.conditions import CLASSROOM, ECHO_SAMPLES, ECHOES
from companion.listening.detection.takes import Floats, recordings
from companion.listening.sound import SAMPLE_RATE

TARGET = Path(__file__).parents[2] / "companion/bench"
PEOPLE = 12
SECONDS = 80
SMALLER = (1.12, 1.35)
LEVELS_DB = (-5.0, 3.0)
PAUSE_S = 0.6
"""Mean pause between what one person says."""
EVENTS_DB = (-9.0, 0.0)
EVERY_S = 2.5
"""Mean time between chairs, dishes and water."""
ECHO_ROOMS = 16
ECHO_T60_S = (0.35, 0.65)


def main(folder: Path) -> None:
    """Make both files."""
    rng = np.random.default_rng(20261128)
    voices = [levelled(recording.astype(np.float64)) for recording in recordings(folder)]
    room = np.stack([talk(voices, rng, smaller=bool(number % 2)) for number in range(PEOPLE)]).sum(axis=0)
    room = levelled(room) + events(rng)
    soundfile.write(TARGET / CLASSROOM, room / np.abs(room).max() * 0.7, SAMPLE_RATE, subtype="VORBIS")
    echoes = np.concatenate([echo(rng, rng.uniform(*ECHO_T60_S), (2.0, 6.0)) for _ in range(ECHO_ROOMS)])
    soundfile.write(TARGET / ECHOES, echoes, SAMPLE_RATE, subtype="PCM_16")


def talk(voices: list[Floats], rng: np.random.Generator, *, smaller: bool) -> Floats:
    """Let one person talk for `SECONDS`, somewhere in a room."""
    said: list[Floats] = []
    times = rng.uniform(*SMALLER) if smaller else rng.uniform(0.95, 1.05)
    while sum(map(len, said)) < SECONDS * SAMPLE_RATE:
        piece = voices[int(rng.integers(len(voices)))]
        said += [
            soxr.resample(piece, SAMPLE_RATE * times, SAMPLE_RATE),
            np.zeros(int(rng.exponential(PAUSE_S) * SAMPLE_RATE)),
        ]
    whole = np.roll(np.concatenate(said), int(rng.integers(SECONDS * SAMPLE_RATE)))[: SECONDS * SAMPLE_RATE]
    response = echo(rng, 0.5, (1.0, 6.0))
    heard = np.fft.irfft(np.fft.rfft(whole) * np.fft.rfft(response, len(whole)), len(whole))
    return levelled(heard) * 10 ** (rng.uniform(*LEVELS_DB) / 20)


def echo(rng: np.random.Generator, t60_s: float, away_m: tuple[float, float]) -> Floats:
    """Return the impulse response between two places of a room, from its direct sound on; the latter is 1."""
    size = np.array([rng.uniform(6, 11), rng.uniform(5, 9), rng.uniform(2.6, 3.6)])
    absorbs, order = pyroomacoustics.inverse_sabine(t60_s, size)
    room = pyroomacoustics.ShoeBox(
        size, SAMPLE_RATE, materials=pyroomacoustics.Material(absorbs), max_order=min(order, 24)
    )
    microphone = size * rng.uniform(0.2, 0.8, 3) * (1, 1, 0) + (0, 0, rng.uniform(0.7, 1.2))
    while True:
        person = size * rng.uniform(0.1, 0.9, 3) * (1, 1, 0) + (0, 0, rng.uniform(1.0, 1.7))
        if away_m[0] < np.linalg.norm(person - microphone) < away_m[1]:
            break
    room.add_source(person)
    room.add_microphone(microphone)
    room.compute_rir()
    response = np.asarray(room.rir[0][0])
    direct = int(np.argmax(np.abs(response) > 0.5 * np.abs(response).max()))
    response = np.pad(response[direct:], (0, ECHO_SAMPLES))[:ECHO_SAMPLES]
    return np.asarray(response / np.abs(response).max() * 0.95, np.float64)


def events(rng: np.random.Generator) -> Floats:
    """Return chairs, dishes and water, at their levels beside talk of a root mean square of 1."""
    room = np.zeros(SECONDS * SAMPLE_RATE)
    at = 0
    while (at := at + int(rng.exponential(EVERY_S) * SAMPLE_RATE)) < len(room):
        kind = (chair, dish, water)[int(rng.integers(3))](rng)
        heard = levelled(kind) * 10 ** (rng.uniform(*EVENTS_DB) / 20)
        end = min(len(room), at + len(heard))
        room[at:end] += heard[: end - at]
    return room


def chair(rng: np.random.Generator) -> Floats:
    """Return a chair that sticks and slips over the floor: pulses through a few resonances."""
    samples = int(rng.uniform(0.2, 0.9) * SAMPLE_RATE)
    rate = rng.uniform(60, 260) * np.exp(np.cumsum(rng.normal(0, 0.004, samples)))
    pulses = np.diff(np.floor(np.cumsum(rate / SAMPLE_RATE)), prepend=0) * rng.uniform(0.3, 1, samples)
    return _rung(pulses + rng.normal(0, 0.02, samples), rng.uniform(300, 3500, 5), (0.004, 0.02), rng)


def dish(rng: np.random.Generator) -> Floats:
    """Return a dish that is struck once or a few times: inharmonic tones that fade."""
    samples = int(rng.uniform(0.4, 1.0) * SAMPLE_RATE)
    struck = np.zeros(samples)
    struck[rng.integers(0, samples // 2, int(rng.integers(1, 5)))] = 1
    return _rung(struck, rng.uniform(900, 7000, 8), (0.03, 0.25), rng)


def water(rng: np.random.Generator) -> Floats:
    """Return a running tap: noise of a few thousand hertz whose level wavers."""
    samples = int(rng.uniform(1.5, 4.0) * SAMPLE_RATE)
    noise = np.diff(rng.normal(size=samples), prepend=0.0)
    wavering = np.interp(
        np.arange(samples), np.arange(0, samples, 800), rng.uniform(0.5, 1, -(-samples // 800))
    )
    return noise * wavering


def levelled(sound: Floats) -> Floats:
    """Return the sound at a root mean square of 1."""
    return np.asarray(sound / (np.sqrt(np.mean(sound**2)) + 1e-9), np.float64)


def _rung(struck: Floats, hertz: Floats, fades_s: tuple[float, float], rng: np.random.Generator) -> Floats:
    """Return what resonances at these frequencies make of pulses."""
    times = np.arange(len(struck)) / SAMPLE_RATE
    bell = sum(
        rng.uniform(0.3, 1) * np.sin(2 * np.pi * hz * times) * np.exp(-times / rng.uniform(*fades_s))
        for hz in hertz
    )
    size = 2 * len(struck)
    return np.asarray(np.fft.irfft(np.fft.rfft(struck, size) * np.fft.rfft(bell, size), size)[: len(struck)])


if __name__ == "__main__":
    main(Path(sys.argv[1]))
