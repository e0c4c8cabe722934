"""`companion.toml` as validated settings; an error names file, key, value and remedy."""

import tomllib
from collections.abc import Iterable
from datetime import date, datetime
from functools import lru_cache
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, StringConstraints, ValidationError, model_validator

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.command import Action, Command
from companion.lesson.mark import WHOLE_CLASS, NoteKind, table_scope
from companion.lesson.nudge import NudgeWish
from companion.lesson.plan import Advance, Phase, Plan
from companion.lesson.recognition import Level
from companion.lesson.vocabulary import Vocabulary
from companion.pressing.bindings import Bindings
from companion.settings.keeping import KeepingSection
from companion.settings.keys import GesturesSection, KeySection, bindings_of
from companion.settings.pages import PagesSection
from companion.settings.problem import Problem, each_problem, problems
from companion.settings.section import Name, Sayable, Section
from companion.settings.tables import tables_in
from companion.settings.timetable import TimetableSection
from companion.settings.tones import TonesSection
from companion.settings.words import WordsSection

TABLE = "{table}"
"""Stands in a phrase for the name of each table."""


class GradingPeriodSection(Section):
    """`[[school.grading_periods]]`: a span of the school year that history can be looked at by."""

    name: Name
    begins: date
    ends: date

    @model_validator(mode="after")
    def _ends_after_it_begins(self) -> Self:
        if self.ends < self.begins:
            msg = _("ends before it begins; put the days right")
            raise ValueError(msg)
        return self


class SchoolSection(Section):
    """`[school]`: where the lessons are held."""

    name: str = ""
    room: str = ""
    tables: tuple[Sayable, ...] = ()
    grading_periods: tuple[GradingPeriodSection, ...] = ()
    shared: str = ""
    """The folder of the school that rooms share their weeks in; this room's are put into it once a day."""


class SessionSection(Section):
    """`[session]`: only in a sample session's plan; which lesson the sound is of."""

    class_group: Name
    plan: Name | None = None
    opened_at: datetime | None = None
    begins_in: Name | None = None


class ListeningSection(Section):
    """`[listening]`: how phrases are heard."""

    engine: Name = "auto"
    language: Annotated[str, StringConstraints(pattern=r"^[a-z]{2,3}(-[a-z]{2})?$")] = "en"
    cue: Sayable | None = None
    """Said right before every phrase; None: phrases stand alone."""
    microphone: str = ""
    """Part of the device's name; empty: the system's own choice."""
    keep_clips_until: date | None = None
    """Last day on which the sound of candidates is kept on disk; None: it never is."""
    learn_from_reviews: bool = False
    """Whether features of phrases that the review confirms are kept, to learn the voice better."""
    for_guests: Literal["off", "unenrolled"] = "off"
    """What listens while a guest teaches: nothing, or what hears every voice alike."""


class PhaseSection(Section):
    """`[[plans.phases]]`: a stretch of the plan."""

    name: Name
    minutes: float = Field(gt=0, le=300)
    routines: tuple[Name, ...] = ()
    advance: Advance | tuple[Advance, ...] = Advance.PHRASE

    def phase(self) -> Phase:
        """Return the phase as the lesson knows it."""
        advance = (self.advance,) if isinstance(self.advance, Advance) else self.advance
        return Phase(self.name, self.minutes, self.routines, advance)


class PlanSection(Section):
    """`[[plans]]`: the ordered phases of a lesson."""

    name: Name
    bring: Annotated[str, StringConstraints(strip_whitespace=True, max_length=120)] = ""
    """What the class brings, shown before it comes."""
    phases: tuple[PhaseSection, ...] = ()

    @model_validator(mode="after")
    def _phases_are_told_apart(self) -> Self:
        if not self.phases:
            msg = _(
                "the plan '{name}' has no phases; add at least one [[plans.phases]] table", name=self.name
            )
            raise ValueError(msg)
        if twin := _first_repeated(phase.name for phase in self.phases):
            msg = _(
                "the plan '{name}' has two phases called '{twin}'; rename one of them",
                name=self.name,
                twin=twin,
            )
            raise ValueError(msg)
        return self

    def plan(self) -> Plan:
        """Return the plan as the lesson knows it."""
        return Plan(self.name, tuple(phase.phase() for phase in self.phases))


class PhraseSection(Section):
    """`[[phrases]]`: what is said, and what happens then."""

    say: Sayable
    does: Action
    phase: Name | None = None
    note: NoteKind | None = None
    routine: Name | None = None

    @model_validator(mode="after")
    def _is_complete(self) -> Self:
        if self.does is Action.RESUME:
            msg = _("a microphone that is closed hears nothing; resume with a key or the page")
            raise ValueError(msg)
        if self.does in (Action.OPEN, Action.CLOSE):
            msg = _(
                "the phrase '{say}' can't {does}; do that with a key, the page or the timetable",
                say=self.say,
                does=_(self.does),
            )
            raise ValueError(msg)
        if self.does is Action.PHASE and self.phase is None:
            msg = _(
                "the phrase '{say}' goes to a phase; say which with {example}",
                say=self.say,
                example='phase = "…"',
            )
            raise ValueError(msg)
        if self.does is Action.NOTE and self.note is None:
            msg = _(
                "the phrase '{say}' opens a note; say which kind with {example}",
                say=self.say,
                example='note = "…"',
            )
            raise ValueError(msg)
        if TABLE in self.say and self.does not in (Action.PRAISE, Action.REMINDER):
            msg = _("the phrase '{say}' names a table; only praise and reminder can", say=self.say)
            raise ValueError(msg)
        return self

    def commands(self, tables: Iterable[str]) -> dict[str, Command]:
        """Return the spoken phrases of this table of the file, each with its command."""
        if TABLE not in self.say:
            return {self.say: self._command(WHOLE_CLASS)}
        return {self.say.replace(TABLE, table): self._command(table_scope(table)) for table in tables}

    def _command(self, scope: str) -> Command:
        return Command(self.does, self.phase, scope, self.note, self.routine)


class LevelSection(Section):
    """`[[levels]]`: a recognition, the least margin that earns it, and what goes home with it."""

    name: Name
    least_margin: int = Field(ge=-1000, le=1000)
    object: Annotated[str, StringConstraints(strip_whitespace=True, max_length=80)] = ""
    """In the teacher's own words; empty: nothing goes home."""
    pieces: int = Field(default=1, ge=1, le=99)
    """How many of that object there are."""


class TellingSection(Section):
    """`[telling]`: when the class is told of a mark."""

    marks: Literal["at once", "held"] = "at once"
    """At once, with tone and line; or held until the teacher says, presses or shows it."""


class NudgeSection(Section):
    """`[nudge]`: a quiet line on the teacher's own window, never on the projector; off as it comes."""

    no_praise_minutes: int = Field(default=0, ge=0, le=60)
    """Say so after so many minutes without praise; 0: never."""
    phase_without_mark: bool = False
    """Say when a phase has ended without any mark."""
    more_reminders: bool = False
    """Say when reminders outnumber praise."""
    tone: bool = False
    """A soft tone with each new line. Whoever is in the room hears it."""

    def wish(self) -> NudgeWish:
        """Return what the teacher wants to be told, as the lesson knows it."""
        return NudgeWish(self.no_praise_minutes, self.phase_without_mark, self.more_reminders, self.tone)


class Settings(Section):
    """Everything that the teacher has settled in advance."""

    school: SchoolSection = SchoolSection()
    session: SessionSection | None = None
    listening: ListeningSection = ListeningSection()
    plans: tuple[PlanSection, ...]
    phrases: tuple[PhraseSection, ...] = ()
    levels: tuple[LevelSection, ...] = ()
    keys: tuple[KeySection, ...] = ()
    gestures: GesturesSection = GesturesSection()
    tones: TonesSection = TonesSection()
    pages: PagesSection = PagesSection()
    words: WordsSection = WordsSection()
    telling: TellingSection = TellingSection()
    keeping: KeepingSection = KeepingSection()
    nudge: NudgeSection = NudgeSection()
    timetable: TimetableSection | None = None

    @model_validator(mode="after")
    def _parts_fit(self) -> Self:
        if not self.plans:
            msg = _("there is no plan; add a [[plans]] table with its phases")
            raise ValueError(msg)
        if twin := _first_repeated(plan.name for plan in self.plans):
            msg = _("two plans are called '{twin}'; rename one of them", twin=twin)
            raise ValueError(msg)
        spoken = [say for phrase in self.phrases for say in phrase.commands(self.school.tables)]
        if twin := _first_repeated(spoken):
            msg = _("the phrase '{twin}' is bound twice; keep one of them or say it differently", twin=twin)
            raise ValueError(msg)
        aims = [(_("the phrase '{say}'", say=phrase.say), phrase.phase) for phrase in self.phrases]
        aims += [(_("the key '{press}'", press=key.press), key.phase) for key in self.keys]
        for what, phase in aims:
            if phase and not any(plan.plan().phase(phase) for plan in self.plans):
                msg = _(
                    "{what} goes to the phase '{phase}', which no plan has; correct it or add the phase",
                    what=what,
                    phase=phase,
                )
                raise ValueError(msg)
        for key in self.keys:
            if key.table and key.table not in self.school.tables:
                msg = _(
                    "the key '{press}' is for the table '{table}', which the school has not; correct it "
                    "or add the table under [school]",
                    press=key.press,
                    table=key.table,
                )
                raise ValueError(msg)
        for name in sorted(self.timetable.plans if self.timetable else ()):
            if not any(plan.name == name for plan in self.plans):
                msg = _(
                    "the timetable asks for the plan '{name}', which is not there; add it or correct it",
                    name=name,
                )
                raise ValueError(msg)
        for what in ("name", "least_margin"):
            if twin := _first_repeated(str(getattr(level, what)) for level in self.levels):
                msg = _("two levels have the {key} '{twin}'; change one of them", key=what, twin=twin)
                raise ValueError(msg)
        try:
            bindings_of(self.keys)
        except CompanionError as error:
            raise ValueError(str(error).rstrip(".")) from error
        return self

    @property
    def bindings(self) -> Bindings:
        """What each gesture on a key does."""
        return bindings_of(self.keys)

    @property
    def commands(self) -> dict[str, Command]:
        """What each phrase does, by its spoken form without the cue."""
        return {
            say: command
            for phrase in self.phrases
            for say, command in phrase.commands(self.school.tables).items()
        }

    def commands_in(self, plan: Plan) -> dict[str, Command]:
        """Return the phrases that make sense in a lesson with `plan`: those for its own phases only."""
        return {
            say: command
            for say, command in self.commands.items()
            if command.phase is None or plan.phase(command.phase)
        }

    def vocabulary(self, plan: Plan) -> Vocabulary:
        """Return what a spotter listens for in a lesson with `plan`."""
        return Vocabulary(tuple(self.commands_in(plan)), self.listening.cue, self.listening.language)

    def levels_table(self) -> tuple[Level, ...]:
        """Return the teacher's table of recognition levels, highest first."""
        levels = (Level(level.name, level.least_margin, level.object, level.pieces) for level in self.levels)
        return tuple(sorted(levels, key=lambda level: -level.least_margin))

    def plan(self, name: str | None = None) -> Plan:
        """Return the plan called `name`, or the first one.

        Raises CompanionError if no plan has that name.
        """
        for section in self.plans:
            if name is None or section.name == name:
                return section.plan()
        known = ", ".join(f"'{section.name}'" for section in self.plans)
        raise CompanionError(
            _("There is no plan '{name}'.", name=name), remedy=_("Use one of {known}.", known=known)
        )


def _first_repeated(names: Iterable[str]) -> str | None:
    seen: set[str] = set()
    for name in names:
        if name.casefold() in seen:
            return name
        seen.add(name.casefold())
    return None


def load_settings(path: Path) -> Settings:
    """Return the settings in the TOML file `path`.

    Raises CompanionError that names file, key, value and remedy.
    """
    return parse_settings(read_text(path), str(path))


def read_text(path: Path) -> str:
    """Return the text of the settings file `path`, without the mark that some editors put before UTF-8.

    Raises CompanionError if it can't be read.
    """
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError as error:
        raise CompanionError(
            _("There is no settings file {path}.", path=path), remedy=_("Write one with: companion init")
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else _("it is not UTF-8")
        raise CompanionError(
            _("The settings file {path} can't be read ({why}).", path=path, why=why),
            remedy=_("Check that it is a text file of yours, saved as UTF-8."),
        ) from error


def parse_settings(text: str, source: str) -> Settings:
    """Return the settings in `text`; `source` names it in errors.

    Raises CompanionError that names source, key, value and remedy.
    """
    try:
        return _settings_in(text)
    except tomllib.TOMLDecodeError as error:
        raise not_toml(source, error) from error
    except ValidationError as error:
        raise CompanionError(
            f"{problems(source, error.errors())}.",
            safe=_("Nothing recorded was changed."),
            remedy=_("Mend it in the file, or on the page that opens with: companion"),
        ) from error


@lru_cache(maxsize=2)
def _settings_in(text: str) -> Settings:
    return Settings.model_validate(tables_in(text))


def problems_in(text: str) -> tuple[Problem, ...]:
    """Return everything that is wrong in the text of a settings file, each with its place; () if it is valid.

    Raises CompanionError for a text that is not TOML: nothing in it has a place.
    """
    try:
        _settings_in(text)
    except tomllib.TOMLDecodeError as error:
        raise not_toml(_("The settings file"), error) from error
    except ValidationError as error:
        return tuple(each_problem(error.errors()))
    return ()


def not_toml(source: str, error: Exception) -> CompanionError:
    """Return what is said of a file that is no TOML."""
    return CompanionError(
        _("{source} is not valid TOML: {error}.", source=source, error=str(error).rstrip(".")),
        safe=_("Nothing recorded was changed."),
        remedy=_("Mend that line; quotes and brackets come in pairs."),
    )
