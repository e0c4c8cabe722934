"""What the scripts of the pages say: they get it in the language that is spoken, by the English sentence."""

from functools import lru_cache
from gettext import NullTranslations

from companion import language
from companion.language import later

SCRIPT_WORDS = (
    later("Not recorded yet: the companion does not answer. Trying again…"),
    later("This was not recorded: the companion does not answer. Start it again, then repeat the step."),
    later("No connection to the companion. This is how it was at {time}."),
    later("time is up"),
    later("{minutes} min over"),
    later("less than a minute left"),
    later("{minutes} min left"),
    later("This sound is no longer in memory."),
    later("Copied."),
    later("The browser did not allow copying. Select the text below and copy it yourself."),
    later("What you typed is not kept yet: the companion does not answer. Trying again…"),
    later("What you typed is not kept yet: the disk does not take it. Trying again…"),
    later("Kept, not saved yet."),
    later("You had typed “{words}” here; something else was saved since."),
    later("Put it in"),
    later("Forget it"),
    later(
        "The file is larger than {megabytes} MB. Nothing was kept. Save the picture smaller and try again."
    ),
    later("Drop the picture on the place that it is of: a carry-over, a phase or a routine."),
    later("This can be changed on marks only."),
    later("{key} does nothing on this card."),
)
"""Every sentence that stands in `static/` as `translated("…")`."""


def script_words() -> dict[str, str]:
    """Return those sentences whose words are others in the language that is spoken; not to be changed."""
    return _other_words(language.catalogue(language.spoken()))


@lru_cache(maxsize=4)
def _other_words(said: NullTranslations) -> dict[str, str]:
    return {sentence: other for sentence in SCRIPT_WORDS if (other := said.gettext(sentence)) != sentence}
