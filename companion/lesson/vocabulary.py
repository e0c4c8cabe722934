"""What is listened for: the phrases of a plan, and the cue before them."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What a spotter listens for: a closed set of phrases, each said right after the cue if there is one."""

    phrases: tuple[str, ...]
    cue: str | None = None
    language: str = "en"

    @property
    def openers(self) -> tuple[str, ...]:
        """What is listened for first: the cue alone where there is one, else every phrase."""
        return (self.cue,) if self.cue else self.phrases

    def spoken(self, phrase: str) -> str:
        """Return the whole spoken form of `phrase`, cue included."""
        return f"{self.cue} {phrase}" if self.cue else phrase
