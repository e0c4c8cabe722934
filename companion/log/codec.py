"""Events to rows of the log, and back."""

import json
from datetime import datetime
from functools import cache
from typing import Any

from pydantic import TypeAdapter

from companion.errors import CompanionError
from companion.language import _
from companion.lesson.event import BODIES, KIND_OF, Body, Event
from companion.log.schema import EVENT_VERSION

EventRow = dict[str, Any]
"""A row of the table `event`, by its columns."""


@cache
def _adapter(kind: str) -> TypeAdapter[Body]:
    """Return what reads and writes bodies of a kind; most commands meet few of the kinds."""
    return TypeAdapter(BODIES[kind])


def row_of(event: Event) -> EventRow:
    """Return the row that keeps `event`."""
    kind = KIND_OF[type(event.body)]
    body = _adapter(kind).dump_python(event.body, mode="json", exclude_defaults=True)
    return {
        "id": event.id,
        "session": event.session,
        "seq": event.seq,
        "at": event.at.isoformat(),
        "offset_ms": event.offset_ms,
        "kind": kind,
        "version": EVENT_VERSION,
        "body": json.dumps(body, ensure_ascii=False),
        "batch": event.batch,
    }


def event_of(row: EventRow) -> Event:
    """Return the event in `row`.

    Raises CompanionError if it was written by a newer program or is damaged.
    """
    if row["version"] > EVENT_VERSION or row["kind"] not in BODIES:
        raise CompanionError(
            _("The session log holds an event that this version does not know ('{kind}').", kind=row["kind"]),
            safe=_("Nothing was changed."),
            remedy=_("Install the newest version of the companion."),
        )
    try:
        body = _adapter(row["kind"]).validate_json(row["body"])
        at = _moment(row["at"])
    except ValueError as error:
        raise CompanionError(
            _(
                "Event {event} of session {session} in the session log is damaged.",
                event=row["seq"],
                session=row["session"],
            ),
            safe=_("Nothing was changed; the other sessions can be read."),
            remedy=_("Put the last backup in its place, or purge that session."),
        ) from error
    return Event(
        id=row["id"],
        session=row["session"],
        seq=row["seq"],
        at=at,
        offset_ms=row["offset_ms"],
        body=body,
        # Older logs don't say it; there, what has one wall time was recorded together.
        batch=row["batch"] or row["at"],
    )


def _moment(text: str) -> datetime:
    """Return a moment with its zone. Raises ValueError for what is none."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError(text)
    return moment
