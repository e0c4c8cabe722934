"""How loud the microphone is, as one line that moves."""

from rich.text import Text

from companion.language import _, word
from companion.listening.microphone.capture import Microphone

QUIETEST_DBFS, LOUDEST_DBFS = -70, 0
GOOD_DBFS = (-45, -12)
"""Where speech at the microphone should be: below, it drowns; above, it clips."""
WIDTH = 50


class LevelMeter:
    """The level of one microphone, with the loudest there was."""

    def __init__(self, microphone: Microphone) -> None:
        self._microphone = microphone
        self._loudest_dbfs = QUIETEST_DBFS * 1.0

    def line(self, width: int = WIDTH) -> Text:
        """Return the line for now: the level, or what is wrong with the microphone."""
        microphone = self._microphone
        if microphone.trouble:
            trouble = microphone.trouble
            return Text(f"  {trouble.words[0].upper()}{trouble.words[1:]}. {trouble.remedy}", style="bold")
        self._loudest_dbfs = max(self._loudest_dbfs, microphone.level_dbfs)
        level = min(LOUDEST_DBFS, max(QUIETEST_DBFS, microphone.level_dbfs))
        filled = round((level - QUIETEST_DBFS) / (LOUDEST_DBFS - QUIETEST_DBFS) * width)
        low, high = GOOD_DBFS
        loudest = self._loudest_dbfs
        if loudest < low:
            verdict = _("too low for speech")
        else:
            verdict = _("too high") if loudest > high else word("level", "good")
        told = _(
            "{level} dBFS, loudest {loudest}: {word}",
            level=f"{level:4.0f}",
            loudest=f"{loudest:.0f}",
            word=verdict,
        )
        return Text(f"  {'█' * filled}{'·' * (width - filled)} {told}")
