"""Who speaks: tells the teacher's own voice from a child's or a colleague's that says the same phrase.

Four kinds of evidence. A network trained to tell speakers apart (Wan et al., Generalized End-to-End Loss
for Speaker Verification, ICASSP 2018; `models/making/make_speaker_model.py` says where its weights are
from) gives each stretch of speech a direction; the angle between two says how alike they are. It hears
little of a voice that is like the teacher's but for its size, so two more have their say: the pitch, and
whether the voice would be more alike if it came from a larger or smaller body. For that the frequencies are
warped, as in vocal tract length normalisation (Lee and Rose, Speaker normalization using efficient
frequency warping procedures, ICASSP 1996). And since it is known what is said, it is compared moment by
moment with the takes (`course`).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray

from companion.listening.detection.takes import babble, in_room, noisy, room, speech_in
from companion.listening.phonemes.network import Network, open_network
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.voice.course import Course, among, course_of
from companion.listening.voice.mel import CHANNELS, STEP_SAMPLES, mel_filters, spectra

DIMENSIONS = 256
FRAMES = 160
"""Frames that the network looks at (1.6 s); a shorter phrase is repeated until it fills them."""
LEVEL_DBFS = -30.0
"""What the network was trained at."""

LEAST_LIKENESS = 0.61
"""From here on a voice counts as the teacher's (chosen on development recordings)."""
PITCH_WEIGHT = 0.3
"""What an octave of difference in pitch takes away."""
PITCH_SLACK = 0.15
"""Octaves by which a teacher's pitch varies anyway."""
MOST_PITCH = 0.5

WARPS = (2**-0.25, 2**0.25)
"""Heard with its frequencies so many times as high, the speech comes from a larger body and a smaller one."""
SIZE_WEIGHT = 4.0
"""How many times the likeness is taken away that the better of these adds."""
SIZE_SLACK = -0.03
"""Likeness that it has to take away, as it nearly always does from the own voice: less speaks for another
body. (Of twelve synthetic voices, clean and at 10 dB, 98 % of what they say themselves lose more, and half of
what the same voices say 1.15 times as high gain 0.09.)"""
NOISY_SIZE_SLACK = 0.03
"""Likeness that it may add anyway beneath much talk (chosen on development recordings, at 5 dB)."""
CLEAR_DB = 9.0
"""Speech so much louder than its room is clear; beneath that less is asked of a voice."""
SLOPE = 25.0
"""How log odds rise with likeness above `LEAST_LIKENESS` (set by hand)."""

EVIDENCE_WEIGHTS = (18.1, -65.1, -5.9, -3.2, -8.0)
"""Of likeness, of what another body adds to it, of how far the course is, of how much the room hides, and of
nothing (`tests.listening.fit_speaker`, on development voices)."""
FURTHER_FROM = 250.0
"""dB² that belong to any course: takes of a very even voice must not make a little noise somebody else."""
HIDDEN_DB = 12.0
"""Speech no louder than that above its room is half hidden."""

FEWEST_TO_JUDGE = 6
"""So many takes tell how alike a teacher's takes are to each other."""
VERY_ALIKE = 0.93
STRICTER = 4.0
MOST_STRICTER = 0.12
"""Where each of the takes is so like all others, more is asked of what is heard: so many times what they are
more alike, and no more than that (chosen on twelve synthetic voices; people's takes mostly lie beneath)."""

LEAST_AMONG_TAKES = 0.66
"""How alike each take has to be to half of the others; of different people they are nearly never."""
FEWEST_TAKES = 3

NOISES_DB = (10.0, 5.0)
"""A take is enrolled as it is, in a room, and beneath the talk of a class at these signal-to-noise ratios."""

PITCH_FRAME = 800
LOWEST_HZ, HIGHEST_HZ = 70, 500
PERIODIC = 0.8
"""How alike two periods have to be for a frame to have a pitch (1: the same)."""
FEWEST_VOICED = 5
_STRETCH = SAMPLE_RATE // 5

_Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Speaker:
    """What is known of a voice."""

    direction: _Floats
    """Of unit length."""
    pitch_hz: float
    """Median; 0 where it is unknown."""
    speech_s: float
    """How much speech it was found in; of several takes the median."""
    alike: float = 0.0
    """Of several takes: how alike the most unlike is to all others; 0 where there are too few to say."""
    courses: tuple[Course, ...] = ()
    """How its takes go on; none where they were not kept."""
    among: float = 0.0
    """How far these are from each other (`course.among`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardSpeaker(Speaker):
    """What is known of a voice that is to be compared."""

    warped: _Floats
    """The directions of its speech at each of `WARPS` (warps x dimensions)."""


def likeness(enrolled: Speaker, heard: Speaker) -> float:
    """Return how alike two voices are: 1 at most, mostly above 0.7 for one and below for two."""
    alike = float(enrolled.direction @ heard.direction)
    if not enrolled.pitch_hz or not heard.pitch_hz:
        return alike
    octaves = abs(float(np.log2(heard.pitch_hz / enrolled.pitch_hz)))
    return alike - PITCH_WEIGHT * min(MOST_PITCH, max(0.0, octaves - PITCH_SLACK))


def own_log_odds(
    enrolled: Speaker, heard: HeardSpeaker, above_room_db: float = np.inf, apart: float | None = None
) -> float:
    """Return the log odds that the enrolled voice spoke; beneath 0 somebody else did.

    above_room_db: how much louder the speech is than its room, which hides what a voice is like. apart: how
    far its course is from those of the takes (`course.distance`), where they were kept.
    """
    if apart is not None:
        return float(np.dot(EVIDENCE_WEIGHTS, evidence(enrolled, heard, above_room_db, apart)))
    clear = above_room_db >= CLEAR_DB
    added = _added(enrolled, heard)
    slack = SIZE_SLACK if clear else NOISY_SIZE_SLACK
    alike = likeness(enrolled, heard) - SIZE_WEIGHT * max(0.0, added - slack)
    stricter = min(MOST_STRICTER, STRICTER * max(0.0, enrolled.alike - VERY_ALIKE)) if clear else 0.0
    return SLOPE * (alike - LEAST_LIKENESS - stricter)


def evidence(
    enrolled: Speaker, heard: HeardSpeaker, above_room_db: float, apart: float
) -> tuple[float, float, float, float, float]:
    """Return what `EVIDENCE_WEIGHTS` weigh; arguments as those of `own_log_odds`."""
    larger = max(0.0, _added(enrolled, heard) - SIZE_SLACK)
    further = float(np.log((apart + FURTHER_FROM) / (enrolled.among + FURTHER_FROM)))
    hidden = float(1 / (1 + 10 ** ((above_room_db - HIDDEN_DB) / 10)))
    return likeness(enrolled, heard), larger, further, hidden, 1.0


def above_room_db(speech: Sound, around: Sound) -> float:
    """Return how much louder speech is than the quietest fifth of a second of the sound around it."""
    steps = around[: len(around) // _STRETCH * _STRETCH].reshape(-1, _STRETCH).astype(np.float64)
    if not len(steps) or not len(speech):
        return np.inf
    quietest = float(np.mean(steps**2, axis=1).min())
    return float(10 * np.log10((np.mean(speech.astype(np.float64) ** 2) + 1) / (quietest + 1)))


def _added(enrolled: Speaker, heard: HeardSpeaker) -> float:
    """Return how much likeness another size of the body adds."""
    return float(np.max((heard.warped - heard.direction) @ enrolled.direction))


def heard_speaker(speech: Sound) -> HeardSpeaker:
    """Return the voice in a stretch of speech that has no pause before it or after it."""
    direction, *warped = _directions(speech, 1.0, *WARPS)
    return HeardSpeaker(direction, _pitch_hz(speech), len(speech) / SAMPLE_RATE, warped=np.stack(warped))


def take_speaker(take: Sound) -> Speaker:
    """Return the voice in a take, as it would be heard near and far, in silence and beneath other talk."""
    rng = np.random.default_rng(0)
    speech = take[slice(*speech_in(take))]
    far = np.clip(in_room(speech.astype(np.float64), room(rng)), -32768, 32767).astype(np.int16)
    versions = [speech, far, *(noisy(speech, babble(rng, len(speech)), snr) for snr in NOISES_DB)]
    direction = _mean([_directions(version, 1.0)[0] for version in versions])
    return Speaker(direction, _pitch_hz(speech), len(speech) / SAMPLE_RATE, courses=(course_of(speech),))


def one_speaker(takes: Sequence[Speaker]) -> Speaker | None:
    """Return the voice of all takes together; None where they are too few or not clearly of one voice.

    Takes of several voices must not make one of them refuse the others.
    """
    if len(takes) < FEWEST_TAKES:
        return None
    for take in takes:
        if np.median([likeness(take, other) for other in takes if other is not take]) < LEAST_AMONG_TAKES:
            return None
    return _joined(takes)


def _joined(takes: Sequence[Speaker]) -> Speaker:
    pitches = [take.pitch_hz for take in takes if take.pitch_hz]
    courses = tuple(course for take in takes for course in take.courses)
    kept = courses if len(courses) >= FEWEST_TAKES else ()
    return Speaker(
        _mean([take.direction for take in takes]),
        float(np.median(pitches)) if pitches else 0.0,
        float(np.median([take.speech_s for take in takes])),
        _alike([take.direction for take in takes]),
        kept,
        among(kept) if kept else 0.0,
    )


def _alike(directions: Sequence[_Floats]) -> float:
    """Return how alike the most unlike take is to the mean of all others; 0 where there are too few."""
    if len(directions) < FEWEST_TO_JUDGE:
        return 0.0
    others = np.sum(directions, axis=0) - directions
    return float(np.min(np.sum(directions * others, axis=1) / np.linalg.norm(others, axis=1)))


def _mean(directions: Sequence[_Floats]) -> _Floats:
    mean = np.mean(directions, axis=0)
    return np.asarray(mean / np.linalg.norm(mean), np.float32)


def _directions(speech: Sound, *warps: float) -> list[_Floats]:
    """Return the direction of the speech with its frequencies multiplied by each of `warps`."""
    power = _power(speech)
    power = np.tile(power, (-(-FRAMES // len(power)), 1))[:FRAMES] if len(power) < FRAMES else power
    starts = range(0, len(power) - FRAMES + 1, FRAMES // 4)
    mels = [np.asarray(power @ mel_filters(CHANNELS, warp), np.float32) for warp in warps]
    windows = [mel[at : at + FRAMES] for mel in mels for at in starts]
    (directions,) = _network().run(None, {"mel": np.stack(windows)})
    return [_mean(list(of_one_warp)) for of_one_warp in np.split(directions, len(warps))]


def _power(speech: Sound) -> NDArray[np.float64]:
    """Return the power spectrum of each frame (frames x frequencies) at the level of the training."""
    sound = speech.astype(np.float64)
    level = np.sqrt(np.mean(sound**2)) / 32768 + 1e-9
    return spectra(sound * (10 ** (LEVEL_DBFS / 20) / level))


def _pitch_hz(speech: Sound) -> float:
    """Return the median pitch over the voiced frames, 0 where there are too few.

    Normalised autocorrelation (McLeod and Wyvill, A smarter way to find pitch, ICMC 2005): the first peak
    nearly as high as the highest.
    """
    if len(speech) < PITCH_FRAME:
        return 0.0
    frames = np.lib.stride_tricks.sliding_window_view(speech.astype(np.float64), PITCH_FRAME)[::STEP_SAMPLES]
    frames = frames - frames.mean(axis=1, keepdims=True)
    shortest, longest = SAMPLE_RATE // HIGHEST_HZ, SAMPLE_RATE // LOWEST_HZ
    spectrum = np.fft.rfft(frames, 2 * PITCH_FRAME, axis=1)
    products = np.fft.irfft(np.abs(spectrum) ** 2, axis=1)[:, : longest + 2]
    energy = np.concatenate((np.zeros((len(frames), 1)), np.cumsum(frames**2, axis=1)), axis=1)
    lags = np.arange(longest + 2)
    both = energy[:, PITCH_FRAME - lags] + energy[:, -1:] - energy[:, lags]
    alike = (2 * products / (both + 1e-9))[:, shortest - 1 :]
    highest = alike[:, 1:-1].max(axis=1)
    peaks = (alike[:, 1:-1] > alike[:, :-2]) & (alike[:, 1:-1] >= alike[:, 2:])
    peaks &= alike[:, 1:-1] > 0.85 * highest[:, np.newaxis]
    voiced = (highest > PERIODIC) & (energy[:, -1] > 0.05 * energy[:, -1].max()) & peaks.any(axis=1)
    if np.count_nonzero(voiced) < FEWEST_VOICED:
        return 0.0
    return float(np.median(SAMPLE_RATE / (shortest + peaks[voiced].argmax(axis=1))))


@cache
def _network() -> Network:
    return open_network(resources.files("companion.listening.voice").joinpath("speakers.onnx").read_bytes())
