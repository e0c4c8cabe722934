"""From what was said in a rehearsal to a learnt voice that is kept, and what to expect of it."""

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.takes import Takes
from companion.listening.rehearsal.forecast import foretell, voice_above_room
from companion.listening.sound import Sound
from companion.listening.voice.features import keep_rehearsed, rehearsed_features
from companion.listening.voice.files import keep, set_aside
from companion.listening.voice.top_up import relearn
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
    keep(folder, learnt)
    return tuple(filter(None, (*forecast.sentences, voice_above_room(takes, room))))
