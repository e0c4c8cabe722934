"""What every page works with: the log, the port to the lesson, the templates."""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import product
from pathlib import Path
from typing import Any

import jinja2
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from ulid import ULID
from ulid.base32 import ENCODE

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.event import Body
from companion.lesson.session import Session
from companion.log.drafts import Draft, Drafts
from companion.log.store import SessionLog, open_log
from companion.pages.exercises.exercise import Exercises
from companion.pages.house import House, NoHouse
from companion.pages.keys import Keys
from companion.pages.page_words import on_pages
from companion.pages.port import LessonPort
from companion.pages.script_words import script_words
from companion.pages.template_words import let_speak
from companion.paths import Home
from companion.settings.chosen_language import chosen_language

FOLDER = Path(__file__).parent
LATEST_S = 600.0
"""No press waits longer to be sent: what is said to be older comes from a clock that went wrong."""


@dataclass(frozen=True, slots=True)
class Desk:
    """Everything behind the pages of one running companion."""

    home: Home
    port: LessonPort
    keys: Keys
    clock: Callable[[], datetime]
    exercises: Exercises = field(default_factory=Exercises)
    house: House = field(default_factory=NoHouse)

    @contextmanager
    def log(self) -> Iterator[SessionLog]:
        """Open the session log for one answer, in the thread that gives it."""
        with open_log(self.home.log) as log:
            yield log

    @property
    def drafts(self) -> Drafts:
        """What was typed on the pages and not saved yet."""
        return Drafts(self.home.log)

    @property
    def note_language(self) -> str:
        """The language of the hand-off note."""
        return chosen_language(self.home.settings).note

    def session(self, request: Request) -> Session:
        """Return the session that the address names.

        Raises CompanionError if it is not in the log.
        """
        with self.log() as log:
            return log.session(request.path_params["session"])

    def stamp(self, session: Session) -> str:
        """Return what changes whenever a page about `session` has something new to show."""
        return stamp(session.last_seq, self, session.id)

    def append(self, session: Session, form: FormData, *bodies: Body) -> Session:
        """Record `bodies` for the wish that `form` carries; what was typed into it is no draft then."""
        if bodies:
            session = self.port.append(session.id, bodies, request=wish_of(form))
        # It is recorded: words that can't be forgotten just now are told by the next that is typed.
        with suppress(CompanionError):
            self.drafts.forget(text(form, "draft"))
        return session

    def _typed(self) -> dict[str, dict[str, Draft]]:
        """Return what was typed; where it can't be read a page is needed all the same."""
        try:
            return self.drafts.all()
        except CompanionError:
            return {}

    def page(self, template: str, http_status: int = 200, **values: Any) -> Response:  # noqa: ANN401 - for Jinja
        """Return a page made of `template`."""
        made = _templates.get_template(template).render(
            desk=self,
            page_token=self.keys.page_token,
            drafts=self._typed(),
            new_wish=_wishes(),
            **values,
        )
        return HTMLResponse(_ADDRESS.sub(f'="/{self.keys.door}/', made), http_status)


def take_templates(compiled: jinja2.BytecodeCache | None) -> None:
    """Take templates as they are kept in `compiled`, and keep there those that have to be compiled."""
    _templates.bytecode_cache = compiled


def stamp(seq: int, desk: Desk, session_id: str) -> str:
    """Return the stamp of a session whose newest event is `seq`."""
    status = desk.port.status(session_id)
    return f"{seq}-{hash(status) & 0xFFFFFFFF:x}-{hash(desk.port.sounds(session_id)) & 0xFFFFFFFF:x}"


def desk_of(request: Request) -> Desk:
    """Return the desk of the running pages."""
    desk = request.app.state.desk
    assert isinstance(desk, Desk)
    return desk


def wish_of(form: FormData) -> str:
    """Return the id of the wish that a form carries.

    Raises CompanionError if it carries none: it was not sent by a page of ours.
    """
    try:
        return str(ULID.from_str(text(form, "request")))
    except ValueError as error:
        raise CompanionError(
            _("This page is out of date."), remedy=_("Load it again and repeat the step.")
        ) from error


def ago_of(form: FormData) -> float:
    """Return how many seconds ago a button was pressed, by the page's own clock; 0 where it says nothing.

    A press that came through late counts for its own moment.
    """
    said = text(form, "ago_ms", most=9)
    return min(int(said) / 1000, LATEST_S) if said.isdecimal() and said.isascii() else 0.0


def _wishes() -> Callable[[], str]:
    """Return what gives each form of one page a ULID of its own, by counting on in the middle of one.

    The last letters stay as they are, for who makes several ids of one (`notes`).
    """
    one = str(ULID())
    counted = map("".join, product(ENCODE, repeat=3))
    return lambda: f"{one[:-6]}{next(counted)}{one[-3:]}"


def text(form: FormData, name: str, most: int = 400) -> str:
    """Return a field of a form, without space around it and no longer than `most` letters."""
    value = form.get(name, "")
    return " ".join(value.split())[:most] if isinstance(value, str) else ""


def day_in(written: str) -> date | None:
    """Return the day that a field of a form names, or None if it is empty.

    Raises CompanionError if it is no day.
    """
    try:
        return date.fromisoformat(written) if written else None
    except ValueError as error:
        raise CompanionError(
            _("'{written}' is no date.", written=written),
            remedy=_("Write year, month and day, as in 2026-09-14."),
        ) from error


def then(address: str) -> Response:
    """Return the answer after a write: look at `address` now."""
    return RedirectResponse(address, 303)


_ADDRESS = re.compile(
    r'="/(?<!\bvalue="/)(?<!\balt="/)(?<!\btitle="/)(?<!\bplaceholder="/)(?<!\baria-label="/)'
)
"""The begin of an address, which lies behind the door. Autoescape leaves no `"` in any value, so only a
template has this; but what words are in may begin with a slash, too, as a folder does. What may not stand
before it is looked at after it: a plain beginning is found many times faster."""
_templates = jinja2.Environment(
    loader=jinja2.FileSystemLoader(FOLDER / "templates"),
    autoescape=True,
    trim_blocks=True,
    lstrip_blocks=True,
    undefined=jinja2.StrictUndefined,
)
let_speak(_templates)
_templates.globals["script_words"] = script_words
_templates.filters["on_pages"] = on_pages
_templates.filters["typed"] = lambda form: json.dumps(
    {field: (draft.value, draft.base) for field, draft in form.items()}, ensure_ascii=False
)
