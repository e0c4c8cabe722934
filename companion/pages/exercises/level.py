"""The microphone, heard: how loud it is, and whether a voice stands out."""

from companion.language import _
from companion.listening.microphone.capture import Block
from companion.listening.microphone.sound_check import SoundCheck, VoiceHeard
from companion.pages.exercises.listening_line import ListeningLine


class HeardMicrophone:
    """Listens to one microphone, and keeps nothing of it."""

    step = "microphone"

    def __init__(self, name: str) -> None:
        """name: part of the device's name; empty for the system's own choice."""
        self.name = name
        self.resting = False
        self._check = SoundCheck()
        self._microphone = ListeningLine(name or None, self._hear)

    @property
    def words(self) -> str:
        """What is to be said of it now."""
        if self.resting:
            return _("The microphone is closed again.")
        trouble = self._microphone.trouble
        if trouble is not None:
            return f"{trouble.words[0].upper()}{trouble.words[1:]}. {trouble.remedy}"
        return _(str(self._check.hearing))

    @property
    def is_good(self) -> bool:
        """Whether a voice is heard well."""
        return self._microphone.trouble is None and self._check.hearing is VoiceHeard.GOOD

    @property
    def stamp(self) -> str:
        """What changes with the words."""
        return f"{self.name}-{self.words}"

    @property
    def level_dbfs(self) -> float | None:
        """Loudness of the newest sound."""
        return None if self.resting else self._microphone.level_dbfs

    def rest(self) -> None:
        """Close the microphone."""
        self.resting = True
        self._microphone.close()

    def _hear(self, block: Block) -> None:
        self._check.hear(block.sound)
