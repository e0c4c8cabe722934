"""Numbers of a lesson as sentences, for eyes and for screen readers alike."""

from companion.language import _, many
from companion.lesson.session import SelfRating, Session


def recognition_words(session: Session) -> str:
    """Return what the class has reached and what the next level needs."""
    ahead, reached = session.next_level, session.recognition
    if not session.levels:
        return ""
    so_far = _("Reached: {level}.", level=reached) if reached else _("No recognition reached yet.")
    if session.overruled is not None:
        return _("Decided by the teacher: {level}.", level=reached or _("no recognition today"))
    if ahead is None:
        return " ".join((so_far, _("That is the highest there is.")))
    # A lesson without a mark earns nothing: its first praise may reach a level of zero.
    more = many(
        "{count} more praise for {level}.",
        "{count} more praises for {level}.",
        max(1, ahead.least_margin - session.margin),
        level=ahead.name,
    )
    return f"{so_far} {more}"


def time_left(left_ms: int | None) -> str:
    """Return the minutes left of a phase in words."""
    if left_ms is None:
        return ""
    minutes = abs(left_ms) // 60_000
    if left_ms < 0:
        return _("time is up") if minutes == 0 else _("{minutes} min over", minutes=minutes)
    return _("less than a minute left") if minutes == 0 else _("{minutes} min left", minutes=minutes)


def rating_words(rating: SelfRating) -> str:
    """Return what a class said of its own lesson, with the hands where they were counted."""
    if not rating.hands:
        return _(rating.rating)
    hands = ", ".join(str(count) for count in rating.hands)
    return _("{rating} ({hands} hands)", rating=_(rating.rating), hands=hands)
