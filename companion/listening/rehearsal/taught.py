"""From what was said in a rehearsal to a learnt voice that is kept, and what to expect of it."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from companion.language import _, many
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import Takes
from companion.listening.rehearsal.forecast import foretell, voice_above_room
from companion.listening.sound import Sound
from companion.listening.voice.dropped import forget_outdated, recall_dropped
from companion.listening.voice.features import (
    keep_rehearsed,
    recall_rehearsed,
    recall_reviewed,
    rehearsed_features,
)
from companion.listening.voice.files import keep, set_aside
from companion.listening.voice.top_up import FromLessons, relearn, top_up
from companion.paths import private_folder

NO_SOUND: Sound = np.zeros(0, np.int16)


def teach_voice(
    vocabulary: Vocabulary,
    takes: Takes,
    *,
    talk: Sequence[Sound],
    room: Sound,
    folder: Path,
    on_part: Callable[[float], None],
) -> tuple[str, ...]:
    """Learn a voice, keep what was learnt in `folder`, and return what to expect, in plain words.

    on_part: called with the share (0 to 1) of the listening that is done. Raises CompanionError for too few
    takes; what was learnt before is as it was then.
    """
    features = rehearsed_features(vocabulary, takes, [*talk, room] if len(room) else list(talk))
    learnt = relearn(vocabulary, features, folder)
    forecast = foretell(vocabulary, learnt, takes, features, folder, on_part=on_part)
    set_aside(private_folder(folder))
    keep_rehearsed(folder, features)
    forget_outdated(folder)
    keep(folder, learnt, forecast.rehearsed_odds)
    return tuple(filter(None, (*forecast.sentences, voice_above_room(takes, room))))


def teach_again(
    vocabulary: Vocabulary, folder: Path, *, on_part: Callable[[float], None] = lambda _done: None
) -> tuple[str, ...]:
    """Learn a voice again with what reviews confirmed and dropped; return what was done, in plain words.

    on_part: called when that was tried. Raises CompanionError as `top_up` does; what was
    learnt before is as it was then.
    """
    reviewed, dropped = recall_reviewed(folder), recall_dropped(folder)
    found = top_up(vocabulary, recall_rehearsed(folder), FromLessons(reviewed, dropped), folder)
    on_part(0.9)
    set_aside(folder)
    keep(folder, found.learnt)
    told = [
        many(
            "Learnt again, with {count} phrase that you confirmed in reviews.",
            "Learnt again, with {count} phrases that you confirmed in reviews.",
            found.confirmed,
        )
    ]
    if found.dropped:
        told.append(
            many(
                "It was told from {count} sound that was no phrase.",
                "It was told from {count} sounds that were no phrase.",
                found.dropped,
            )
        )
    if found.confirmed < len(reviewed):
        told.append(_("What is not clearly your voice was left out."))
    if found.dropped < len(dropped):
        told.append(_("Dropped marks that hold the phrase, or that would make it worse, were left out."))
    return tuple(told)
