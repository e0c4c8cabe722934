"""The room of the samples: how it answers, and what sounds in it besides people's words.

The microphone stands at the desk. A voice reaches it directly, weaker with distance, and through
the room's diffuse reverberation, whose strength hardly depends on distance.
"""

import numpy as np
import soxr

from sample_sessions.voices import RATE, Wave

Chance = np.random.Generator

VOLUME_M3 = 190.0
"""A room for thirty children: 9 m by 7 m by 3 m."""
REVERBERATION_S = 0.4
"""Time to fall by 60 dB; furnished classrooms lie between 0.4 and 0.6 s."""
FACING = 2.0
"""Directivity of a mouth that faces the microphone: forward it sends about twice the power that it would
if it sent alike to all sides."""
CRITICAL_DISTANCE_M = 0.057 * float(np.sqrt(FACING * VOLUME_M3 / REVERBERATION_S))
"""Where direct and diffuse sound are equally strong, by Sabine's theory of the diffuse field."""


def impulse_response(distance_m: float, chance: Chance) -> Wave:
    """Return the way from a mouth `distance_m` away to the microphone; 1 m away the direct part is 1.

    The tail is noise that decays exponentially, faster in the treble, begins 4 ms after the direct
    sound and holds the diffuse energy that the critical distance prescribes.
    """
    length = int(REVERBERATION_S * RATE)
    time_s = np.arange(length) / RATE
    noise = chance.standard_normal(length)
    dull = np.convolve(noise, np.ones(5) / 5, mode="same") * np.sqrt(5)
    fall = np.log(1000) / REVERBERATION_S
    tail = 0.6 * dull * np.exp(-fall * time_s) + 0.4 * noise * np.exp(-1.6 * fall * time_s)
    tail[: int(0.004 * RATE)] = 0.0
    tail *= (1.0 / CRITICAL_DISTANCE_M) / np.sqrt(np.sum(tail**2))
    tail[0] += 1.0 / distance_m
    return np.asarray(tail)


def heard_from(wave: Wave, distance_m: float, chance: Chance) -> Wave:
    """Return `wave` as the microphone hears it, the tail included."""
    answer = impulse_response(distance_m, chance)
    size = len(wave) + len(answer) - 1
    return np.asarray(np.fft.irfft(np.fft.rfft(wave, size) * np.fft.rfft(answer, size), size))


def ventilation(samples: int, chance: Chance) -> Wave:
    """Return a steady low rush at an RMS of 1: noise that falls by 6 dB an octave above 150 Hz."""
    return _shaped(samples, chance, low_hz=60.0, corner_hz=150.0, high_hz=7000.0)


def water(samples: int, chance: Chance) -> Wave:
    """Return a tap into a sink at an RMS of 1: bright noise whose strength wavers, with bubbles."""
    rush = _shaped(samples, chance, low_hz=300.0, corner_hz=2500.0, high_hz=7500.0)
    slow = soxr.resample(chance.standard_normal(samples * 8 // RATE + 8), 8, RATE)[:samples]
    bubbles = np.zeros(samples)
    for start in chance.integers(0, samples, size=samples * 6 // RATE):
        _add(bubbles, int(start), _ring(chance.uniform(500, 1400, 1), 0.02, chance))
    return _unit(rush * np.exp(0.25 * slow) + 0.6 * bubbles)


def clatter(samples: int, chance: Chance, *, each_s: float = 1.4) -> Wave:
    """Return dishes and tools put down and knocked at an RMS of 1, in flurries, one each `each_s` seconds.

    A knock rings at a handful of inharmonic modes: dishes high and long, tools low and short.
    """
    sound = np.zeros(samples)
    for start in chance.integers(0, samples, size=max(1, int(samples / RATE / each_s))):
        at = int(start)
        dish = chance.random() < 0.6
        for _ in range(int(chance.integers(1, 5))):
            modes = chance.uniform(1500, 6500, 6) if dish else chance.uniform(250, 2200, 5)
            strength = float(np.exp(chance.normal(0.0, 0.5)))
            _add(sound, at, strength * _ring(modes, 0.09 if dish else 0.03, chance))
            at += int(chance.uniform(0.05, 0.22) * RATE)
    return _unit(heard_from(sound, 2.5, chance)[:samples])


def _ring(modes_hz: Wave, decay_s: float, chance: Chance) -> Wave:
    """Return one knock: the modes with random strengths, the higher the sooner gone."""
    time_s = np.arange(int(decay_s * 6 * RATE)) / RATE
    sound = np.zeros(len(time_s))
    for mode_hz in modes_hz:
        decay = decay_s * (1500 / (1500 + mode_hz)) * chance.uniform(0.6, 1.4)
        sound += chance.uniform(0.3, 1.0) * np.sin(2 * np.pi * mode_hz * time_s) * np.exp(-time_s / decay)
    return sound


def _shaped(samples: int, chance: Chance, *, low_hz: float, corner_hz: float, high_hz: float) -> Wave:
    """Return noise between `low_hz` and `high_hz` that falls by 6 dB an octave above `corner_hz`."""
    spectrum = np.fft.rfft(chance.standard_normal(samples))
    hertz = np.fft.rfftfreq(samples, 1 / RATE)
    spectrum *= ((hertz > low_hz) & (hertz < high_hz)) / np.sqrt(1 + (hertz / corner_hz) ** 2)
    return _unit(np.fft.irfft(spectrum, samples))


def _add(sound: Wave, start: int, part: Wave) -> None:
    room = sound[start : start + len(part)]
    room += part[: len(room)]


def _unit(wave: Wave) -> Wave:
    return np.asarray(wave / np.sqrt(np.mean(wave**2)))
