"""A home whose learnt voice is heard less well since some lessons."""

import os
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from companion.lesson import event as ev
from companion.lesson.mark import Source
from companion.listening.detection.detector import SEEN, Detector
from companion.listening.phonemes.acoustic_model import DIMENSIONS
from companion.listening.voice.files import FILE, keep
from companion.listening.voice.learnt import Learnt
from companion.listening.voice.speaker import Speaker
from companion.log.store import open_log
from companion.paths import Home
from companion.weeks.hearing import FINDS
from tests.lesson.builders import AT, OPENED, began, praise

WELL, SUNK = 20, 8
SINCE = "4 October 2026"
SPEAKER = Speaker(np.full(256, 1 / 16, np.float32), 120.0, 0.9)


def learn_voice(home: Home, speaker: Speaker | None = SPEAKER, at: datetime = AT) -> None:
    """Keep a voice that was learnt at that time."""
    detector = Detector("velvet compass", (("V",),), np.zeros(SEEN * DIMENSIONS), 0.0, 0.0, 1.0)
    keep(home.create().voice, Learnt((detector,), {}, speaker))
    os.utime(home.voice / FILE, (at.timestamp(), at.timestamp()))


def hold_lessons(home: Home) -> None:
    """Hold a lesson a day, and settle each; from `SINCE` on the ear is hardly sure of its marks."""
    rng = np.random.default_rng(0)
    with open_log(home.create().log) as log:
        for day in range(WELL + SUNK):
            at = AT + timedelta(days=day)
            session = log.open_session(OPENED, at).id
            sure = [1 / (1 + np.exp(-rng.normal(3.5 if day < WELL else 0.5, 0.5))) for _ in range(FINDS)]
            marks = [replace(praise(1, float(one)), engine="enrolled") for one in sure]
            end = (ev.SessionClosed(9_000, Source.KEY), ev.SessionSettled())
            bodies: list[ev.Body] = [began("arrival", 0), *marks, *end]
            log.append_all(session, bodies, at=at, offset_ms=0)
