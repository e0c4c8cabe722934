"""Which engines there are, and how one is opened."""

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from companion.errors import CompanionError
from companion.listening.candidate import Spotter, Vocabulary


@dataclass(frozen=True, slots=True)
class Voice:
    """What is known of the teacher's voice and its language; an engine takes what it can use."""

    takes: Path | None = None
    """Folder of recordings of the phrases."""
    talk: tuple[Path, ...] = ()
    """Recordings of the same voice saying other things."""
    features: Path | None = None
    """What a rehearsal kept of the voice."""
    models: Path | None = None
    """Folder of speech models; None: the one in the usual home."""


Opener = Callable[[Vocabulary, Voice], Spotter]
Test = Callable[[Vocabulary, Voice], bool]

_ENGINES = {
    "enrolled": "companion.listening.enrolled",
    "vosk": "companion.listening.vosk_spotter",
    "phonemes": "companion.listening.phoneme_spotter",
    "pocketsphinx": "companion.listening.pocketsphinx_spotter",
}
"""Name and module, best engine first. A module offers `ready(vocabulary, voice)`, which says whether what the
engine needs is installed and fits the vocabulary, and `open_spotter(vocabulary, voice)`; it is imported when
it is asked for."""


def engine_names() -> tuple[str, ...]:
    """Return the names that `open_spotter` knows, best engine first, after "auto"."""
    return ("auto", *_ENGINES)


def choose(vocabulary: Vocabulary, engine: str = "auto", voice: Voice | None = None) -> str:
    """Return the name of the engine that `open_spotter` takes; "auto" takes the best that is ready.

    Raises CompanionError for an unknown engine, and for one that is not ready for these phrases.
    """
    if not vocabulary.phrases:
        raise CompanionError("There is no phrase to listen for.", remedy="Name at least one phrase.")
    if engine != "auto" and engine not in _ENGINES:
        raise CompanionError(
            f"There is no engine called “{engine}”.", remedy=f"Choose one of: {', '.join(engine_names())}."
        )
    for name in _ENGINES if engine == "auto" else (engine,):
        ready, _ = _load(name)
        if ready(vocabulary, voice or Voice()):
            return name
    if engine == "auto":
        raise CompanionError(
            f"No engine that is installed understands the language “{vocabulary.language}”.",
            remedy="Set the language to “en”, or install a speech model for it.",
        )
    raise CompanionError(
        f"The engine “{engine}” lacks something it needs for these phrases.",
        remedy="Use the engine “auto”, which takes the best that is ready.",
    )


def open_spotter(vocabulary: Vocabulary, engine: str = "auto", voice: Voice | None = None) -> Spotter:
    """Open an engine for a lesson; "auto" takes the best that is ready for these phrases.

    Raises CompanionError for an unknown engine, for one that is not ready, and for phrases that the engine
    cannot listen for.
    """
    _, opener = _load(choose(vocabulary, engine, voice))
    return opener(vocabulary, voice or Voice())


def _load(name: str) -> tuple[Test, Opener]:
    module = importlib.import_module(_ENGINES[name])
    return cast(Test, module.ready), cast(Opener, module.open_spotter)
