"""The commands of the samples can be heard: a recogniser that knows where they are reads them."""

import numpy as np
import pytest
from numpy.typing import NDArray
from pocketsphinx import Decoder

from tests.sample_sessions.conftest import lesson_of

BEFORE_S, AFTER_S = 0.2, 0.3


@pytest.mark.parametrize(
    ("name", "least"), [("calm-garden", 0.75), ("noisy-kitchen", 0.5), ("hard-afternoon", 0.7)]
)
def test_commands_are_read_from_the_sound(name: str, least: float) -> None:
    """With a grammar of all phrases the right one of about thirty is read, from most of the places
    that the truth gives; the noisier the fewer.
    """
    lesson = lesson_of(name)
    settings = lesson.sample.settings
    cue = settings.listening.cue
    decoder = Decoder(samprate=16_000, loglevel="FATAL", lm=None)
    choices = " | ".join(settings.commands_in(settings.plan()))
    decoder.add_jsgf_string("commands", f"#JSGF V1.0; grammar g; public <s> = {cue} ( {choices} );")
    decoder.activate_search("commands")

    read = [
        _read(decoder, lesson.sound, spoken["begin_s"], spoken["end_s"]) == f"{cue} {spoken['phrase']}"
        for spoken in lesson.spoken
    ]

    assert np.mean(read) >= least


def _read(decoder: Decoder, sound: NDArray[np.int16], begin_s: float, end_s: float) -> str:
    part = sound[int((begin_s - BEFORE_S) * 16_000) : int((end_s + AFTER_S) * 16_000)]
    decoder.start_utt()
    decoder.process_raw(part.tobytes(), full_utt=True)
    decoder.end_utt()
    heard = decoder.hyp()
    return str(heard.hypstr) if heard else ""
