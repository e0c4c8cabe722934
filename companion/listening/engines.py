"""Which engines there are, and how one is opened."""

import importlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path
from typing import cast

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.vocabulary import Vocabulary
from companion.listening.spotter import Spotter


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


OpenEngine = Callable[[Vocabulary, Voice], Spotter]
Requirement = Callable[[Vocabulary, Voice], None]

_ENGINES = {
    "enrolled": "companion.listening.voice.enrolled_engine",
    "vosk": "companion.listening.vosk.spotter",
    "phonemes": "companion.listening.voice.unenrolled_engine",
}
"""Name and module, best engine first. A module offers `require(vocabulary, voice)`, which raises
CompanionError saying what the engine lacks for these phrases, and `open_spotter(vocabulary, voice)`; it is
imported when it is asked for."""


def engine_names() -> tuple[str, ...]:
    """Return the names that `open_spotter` knows, best engine first, after "auto"."""
    return ("auto", *_ENGINES)


def choose(vocabulary: Vocabulary, engine: str = "auto", voice: Voice | None = None) -> str:
    """Return the name of the engine that `open_spotter` takes; "auto" takes the best that is ready.

    Raises CompanionError for an unknown engine, and for one that is not ready for these phrases.
    """
    if not vocabulary.phrases:
        raise CompanionError(_("There is no phrase to listen for."), remedy=_("Name at least one phrase."))
    if engine != "auto" and engine not in _ENGINES:
        raise CompanionError(
            _("There is no engine called “{engine}”.", engine=engine),
            remedy=_("Choose one of: {names}.", names=", ".join(engine_names())),
        )
    if engine != "auto":
        _require(engine, vocabulary, voice)
        return engine
    reasons = []
    for name in _ENGINES:
        try:
            _require(name, vocabulary, voice)
        except OtherLanguageError:
            continue
        except CompanionError as error:
            reasons.append(error.what)
        else:
            return name
    raise CompanionError(
        _(
            "No engine can listen for these phrases (language “{language}”). {reasons}",
            language=vocabulary.language,
            reasons=" ".join(reasons),
        ),
        remedy=_("Choose other phrases, or see `companion models list` for a speech model."),
    )


@dataclass(frozen=True, slots=True)
class Hearable:
    """What of a vocabulary an engine can hear."""

    vocabulary: Vocabulary
    unheard: Mapping[str, str]
    """Each phrase that was left out, and why."""


def hearable(vocabulary: Vocabulary, engine: str = "auto", voice: Voice | None = None) -> Hearable:
    """Leave out each phrase that can't be heard, so that it takes no other with it.

    Raises CompanionError where nothing can be heard: no engine is ready, or the cue can't be heard.
    """
    try:
        choose(vocabulary, engine, voice)
    except CompanionError:
        unheard = {}
        for phrase in vocabulary.phrases:
            try:
                choose(replace(vocabulary, phrases=(phrase,)), engine, voice)
            except CompanionError as error:
                unheard[phrase] = error.what
        if len(unheard) == len(vocabulary.phrases):
            raise
        heard = tuple(phrase for phrase in vocabulary.phrases if phrase not in unheard)
        return Hearable(replace(vocabulary, phrases=heard), unheard)
    return Hearable(vocabulary, {})


class OtherLanguageError(CompanionError):
    """The engine is for another language than that of the phrases."""


def is_english(vocabulary: Vocabulary) -> bool:
    """Say whether the phrases are English of any country."""
    return vocabulary.language.split("-")[0] == "en"


def require_english(vocabulary: Vocabulary, engine: str) -> None:
    """Raise OtherLanguageError for phrases in another language."""
    if not is_english(vocabulary):
        raise OtherLanguageError(
            _("The engine “{engine}” understands English only.", engine=engine), remedy=_("Take “auto”.")
        )


def open_spotter(vocabulary: Vocabulary, engine: str = "auto", voice: Voice | None = None) -> Spotter:
    """Open an engine for a lesson; "auto" takes the best that is ready for these phrases.

    Raises CompanionError for an unknown engine, for one that is not ready, and for phrases that the engine
    cannot listen for.
    """
    _, open_new = _load(choose(vocabulary, engine, voice))
    return open_new(vocabulary, voice or Voice())


def _require(name: str, vocabulary: Vocabulary, voice: Voice | None) -> None:
    requirement, _ = _load(name)
    requirement(vocabulary, voice or Voice())


def _load(name: str) -> tuple[Requirement, OpenEngine]:
    module = importlib.import_module(_ENGINES[name])
    return cast(Requirement, module.require), cast(OpenEngine, module.open_spotter)


def require_installed(engine: str, *modules: str) -> None:
    """Raise CompanionError unless all these modules can be imported; import none of them."""
    try:
        missing = [name for name in modules if find_spec(name) is None]
    except ModuleNotFoundError as error:
        missing = [str(error.name)]
    if missing:
        raise CompanionError(
            _("The engine “{engine}” needs {parts}.", engine=engine, parts=", ".join(missing)),
            remedy=_("Install lesson-companion anew."),
        )
