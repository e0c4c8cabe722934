"""What the companion hears before anybody has rehearsed, and how a cue of one's own is learnt for it."""

from collections.abc import Iterator

from rich.console import Console

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.vocabulary import Vocabulary
from companion.listening.detection.synthesiser import MANNERS, is_installed, say
from companion.listening.engines import Voice, choose, is_english
from companion.listening.voice.cues import SUGGESTED, keep_cue, learn_cue
from companion.listening.voice.unenrolled_engine import untaught_openers
from companion.paths import Home

ANYBODY = later(
    "Until your voice is learnt nobody's is refused: whoever says cue and command makes a mark."
    " Learn yours in a few minutes with: companion rehearse"
)


def learn_from_synthetic_voices(console: Console, home: Home, vocabulary: Vocabulary) -> Iterator[str]:
    """Learn what is listened for first from synthetic voices and keep it; yield what to tell of it.

    What comes with the companion is not learnt again. Raises CompanionError where there is no synthesiser.
    """
    for opener in untaught_openers(vocabulary, Voice(features=home.voice)):
        said = {"phrase": opener, "voices": len(MANNERS)}
        with console.status(_("learning “{phrase}” from {voices} synthetic voices", **said)):
            keep_cue(home.create().voice, learn_cue(opener, say(opener)))
        yield _("“{phrase}” was learnt from {voices} synthetic voices.", **said)
    yield from foretold(home, vocabulary)


def foretold(home: Home, vocabulary: Vocabulary) -> Iterator[str]:
    """Yield what to expect of the unenrolled engine, in plain words."""
    if not is_english(vocabulary):
        yield from _lacking(home, vocabulary)
        return
    for opener in untaught_openers(vocabulary, Voice(features=home.voice)):
        expected = _(
            "No voice has said “{phrase}” yet: until you rehearse, about 1 in 4 will be missed in a quiet"
            " room, and most in a noisy one.",
            phrase=opener,
        )
        yield f"{expected} {_better(vocabulary)}"
    yield _(ANYBODY)


def _lacking(home: Home, vocabulary: Vocabulary) -> Iterator[str]:
    """Yield what must come before anything is heard in a language that is not English."""
    try:
        choose(vocabulary, voice=Voice(features=home.voice, models=home.models))
    except CompanionError as error:
        yield f"{error.what} {error.remedy}"


def _better(vocabulary: Vocabulary) -> str:
    if is_installed():
        return _("Let synthetic voices say it: companion rehearse --synthetic")
    install = _("Install lesson-companion[voices], then say: companion rehearse --synthetic.")
    if not vocabulary.cue:
        return install
    other = _("Or take a cue that comes with the companion: {cues}.", cues=", ".join(SUGGESTED))
    return f"{install} {other}"
