"""Lets no other voice make a mark: what somebody else said becomes a near miss for the review."""

import math
from collections.abc import Iterator
from dataclasses import replace

from companion.listening.candidate import Candidate
from companion.listening.microphone.recent import Recent
from companion.listening.sound import SAMPLE_RATE, Sound
from companion.listening.spotter import Spotter
from companion.listening.voice.course import distance, room_in
from companion.listening.voice.speaker import Speaker, above_room_db, heard_speaker, own_log_odds

REASON = "another voice"
BEFORE_S, AFTER_S = 0.15, 0.12
"""Sound around what the phonemes were laid on: their first and last are found late and early."""
AROUND_S = 1.0
"""Sound around the phrase in which it is heard how loud the room is."""
BESIDE_S = 0.1
"""So near to the phrase it may still be said, and what is heard is not the room."""
SHORTEST_S = 0.4
"""In less speech than this nobody can be told."""


class VoiceCheck:
    """A `Spotter` around another, with the teacher's own voice to compare with."""

    def __init__(self, spotter: Spotter, enrolled: Speaker) -> None:
        self.name = spotter.name
        self._spotter = spotter
        self._enrolled = enrolled
        self._recent = Recent()

    def hear(self, block: Sound) -> list[Candidate]:
        """Take the next block of sound and return what was decided by its end."""
        self._recent.hear(block)
        return list(self._checked(self._spotter.hear(block)))

    def finish(self) -> list[Candidate]:
        """Return what is still undecided at the end of the sound."""
        return list(self._checked(self._spotter.finish()))

    def _checked(self, candidates: list[Candidate]) -> Iterator[Candidate]:
        for candidate in candidates:
            yield self._check(candidate) if candidate.fired else candidate

    def _check(self, candidate: Candidate) -> Candidate:
        # Takes are of the cue, or of the phrase: so much from the begin is compared, and not the command.
        end_ms = min(candidate.end_ms, candidate.begin_ms + round(self._enrolled.speech_s * 1000))
        speech = self._recent.cut(candidate.begin_ms, end_ms, before_s=BEFORE_S, after_s=AFTER_S)
        if len(speech) < SHORTEST_S * SAMPLE_RATE:
            return candidate
        around = self._recent.cut(candidate.begin_ms, candidate.end_ms, before_s=AROUND_S, after_s=AROUND_S)
        above_db = above_room_db(speech, around)
        log_odds = own_log_odds(
            self._enrolled, heard_speaker(speech), above_db, self._apart(candidate, speech)
        )
        if log_odds >= 0:
            return candidate
        confidence = 1 / (1 + math.exp(-log_odds))
        return replace(candidate, fired=False, confidence=confidence, reasons=(REASON,))

    def _apart(self, candidate: Candidate, speech: Sound) -> float | None:
        """Return how far the speech is from the takes; None where their courses were not kept."""
        if not self._enrolled.courses:
            return None
        begin, end = candidate.begin_ms, candidate.end_ms
        beside = (
            self._recent.cut(begin, begin, before_s=AROUND_S, after_s=-BESIDE_S),
            self._recent.cut(end, end, before_s=-BESIDE_S, after_s=AROUND_S),
        )
        return distance(speech, room_in(beside), self._enrolled.courses)
