"""The steps of the way in, in their order, and how far somebody has come."""

import json
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _, later
from companion.paths import Home, replace_file


@dataclass(frozen=True, slots=True)
class Step:
    """One screen."""

    key: str
    """Its address is `/setup/KEY`."""
    title: str
    """In English, as `short` is: shown by `_(one.title)`."""
    short: str


STEPS = (
    Step("rules", later("What this is, and whose rules come first"), later("Rules first")),
    Step("school", later("School, room and tables"), later("School")),
    Step("microphone", later("Microphone"), later("Microphone")),
    Step("cue", later("The cue"), later("Cue")),
    Step("phrases", later("What you say"), later("Phrases")),
    Step("rehearsal", later("Rehearsal"), later("Rehearsal")),
    Step("keys", later("Clicker and keys"), later("Clicker, keys")),
    Step("plans", later("Plans"), later("Plans")),
    Step("week", later("The week"), later("Week")),
    Step("levels", later("Levels"), later("Levels")),
    Step("try", later("Try it"), later("Try it")),
    Step("ready", later("Ready for the first lesson"), later("Ready")),
)
MORE = Step("more", later("More settings"), later("More"))
"""Whatever can wait until somebody wants it: no step of the way in."""


def step(key: str) -> Step:
    """Return the step called `key`. Raises CompanionError if there is none."""
    for one in (*STEPS, MORE):
        if one.key == key:
            return one
    raise CompanionError(_("There is no such page of the set-up."), remedy=_("Go on from: Set-up."))


def after(key: str) -> Step | None:
    """Return the step that follows `key`; None after the last one."""
    return _beside(key, 1)


def before(key: str) -> Step | None:
    """Return the step before `key`; None before the first one."""
    return _beside(key, -1)


def _beside(key: str, by: int) -> Step | None:
    keys = [one.key for one in STEPS]
    if key not in keys or not 0 <= (at := keys.index(key) + by) < len(STEPS):
        return None
    return STEPS[at]


@dataclass(frozen=True, slots=True)
class WayIn:
    """How far somebody has come on the way in."""

    done: frozenset[str] = frozenset()
    """Keys of the steps that were saved, or gone on from."""
    left: bool = False
    """Whether the first page is the board again, though not every step is done."""
    over: bool = field(default=True)
    """Whether nothing is left to lead through: so it is in every home that was not begun by the way in."""

    @classmethod
    def recall(cls, home: Home) -> "WayIn":
        """Return the progress that is kept in `home`; one that can't be read holds nobody up."""
        with suppress(OSError, ValueError, KeyError, TypeError):
            kept = json.loads(_file(home).read_text(encoding="utf-8"))
            return cls(frozenset(map(str, kept["done"])), bool(kept["left"]), bool(kept["over"]))
        return cls()

    def keep(self, home: Home) -> None:
        """Write it down. Raises CompanionError when the disk does not take it."""
        kept = asdict(self) | {"done": [one.key for one in STEPS if one.key in self.done]}
        try:
            replace_file(_file(home), json.dumps(kept).encode())
        except OSError as error:
            raise CompanionError(
                _("How far the set-up has come can't be written ({strerror}).", strerror=error.strerror),
                safe=_("The settings are saved."),
                remedy=_("Free or unlock the disk."),
            ) from error

    def with_done(self, key: str) -> "WayIn":
        """Return what it is once the step `key` is done."""
        return replace(self, done=self.done | {key}, left=False)

    @property
    def next(self) -> Step:
        """The first step that is not done; the last one where all are."""
        return next((one for one in STEPS if one.key not in self.done), STEPS[-1])

    @property
    def leads(self) -> bool:
        """Whether the first page is the way in."""
        return not (self.over or self.left)


def _file(home: Home) -> Path:
    return home.folder / "way_in.json"
