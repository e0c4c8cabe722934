"""A sample session: a folder with plan, sound, truth and the script of its review."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.mark import FamilyContact, Kind
from companion.lesson.scoring import Spoken
from companion.paths import bundled
from companion.settings.settings import Settings, load_settings

SOUNDS = ("sound.flac", "sound.ogg", "sound.wav")


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Correction(_Record):
    """One step of the review, found by time so that it depends on no number of a mark."""

    do: Literal["keep", "change", "drop", "add", "confirm", "note"]
    near_s: float | None = None
    """The mark, near miss or note nearest to here, within five seconds."""
    at_s: float | None = None
    kind: Kind | None = None
    phase: str | None = None
    scope: str | None = None
    routine: str | None = None
    reason: str = ""
    child: str = ""
    line: str = ""
    contact: FamilyContact | None = None


class Reflection(_Record):
    """What is said at the end of the lesson."""

    self_rating: str = ""
    teacher_view: str = ""
    carry_over: str = ""


class ReviewScript(_Record):
    """`review.toml`: what the teacher of the sample does after the lesson."""

    corrections: tuple[Correction, ...] = ()
    reflection: Reflection = Reflection()


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample session as it lies on the disk."""

    folder: Path
    sound: Path
    settings: Settings
    truth: tuple[Spoken, ...]
    script: ReviewScript


def load_sample(folder: Path) -> Sample:
    """Return the sample session in `folder`; truth and review may be missing.

    Raises CompanionError that names what is wrong with which file.
    """
    sound = next((folder / name for name in SOUNDS if (folder / name).is_file()), None)
    if sound is None:
        raise CompanionError(
            _("The folder {folder} holds no sound.", folder=folder),
            remedy=_("A sample session needs one of {files} beside its plan.toml.", files=", ".join(SOUNDS)),
        )
    return Sample(
        folder=folder,
        sound=sound,
        settings=load_settings(folder / "plan.toml"),
        truth=tuple(Spoken.of(entry) for entry in _table(folder / "truth.toml").get("spoken", [])),
        script=_script(folder / "review.toml"),
    )


def sample_names() -> list[str]:
    """Return the names of the sample sessions that come with the program."""
    return sorted(path.parent.name for path in bundled("sample_sessions").glob("*/plan.toml"))


def bundled_sample(name: str) -> Sample:
    """Return the sample session `name` that comes with the program.

    Raises CompanionError if there is none of that name.
    """
    if name not in sample_names():
        raise CompanionError(
            _("There is no sample session '{name}'.", name=name),
            remedy=_("Use one of: {names}.", names=", ".join(sample_names())),
        )
    return load_sample(bundled("sample_sessions") / name)


def _table(path: Path) -> dict[str, Any]:
    if not path.is_file():
        return {}
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CompanionError(
            _("{path} is not valid TOML: {error}.", path=path, error=error), remedy=_("Mend that line.")
        ) from error


def _script(path: Path) -> ReviewScript:
    try:
        return ReviewScript.model_validate(_table(path))
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in first["loc"])
        raise CompanionError(f"{path}: {key}: {first['msg']}.", remedy=_("Mend that value.")) from error
