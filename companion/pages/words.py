"""Numbers of a lesson as sentences, for eyes and for screen readers alike."""

from companion.lesson.counting import how_many
from companion.lesson.session import Session


def recognition_words(session: Session) -> str:
    """Return what the class has reached and what the next level needs."""
    ahead, reached = session.next_level, session.recognition
    if not session.levels:
        return ""
    so_far = f"Reached: {reached}." if reached else "No recognition reached yet."
    if session.overruled is not None:
        return f"Decided by the teacher: {reached or 'no recognition today'}."
    if ahead is None:
        return f"{so_far} That is the highest there is."
    # A lesson without a mark earns nothing: its first praise may reach a level of zero.
    more = how_many(max(1, ahead.least_margin - session.margin), "more praise", "more praises")
    return f"{so_far} {more} for {ahead.name}."


def time_left(left_ms: int | None) -> str:
    """Return the minutes left of a phase in words."""
    if left_ms is None:
        return ""
    minutes = abs(left_ms) // 60_000
    if left_ms < 0:
        return "time is up" if minutes == 0 else f"{minutes} min over"
    return "less than a minute left" if minutes == 0 else f"{minutes} min left"
