"""The tables of the session log and how they came about."""

from companion.log import half_years
from companion.log.database import Database, Migrations
from companion.log.seal import seal_anew
from companion.log.week_rows import write_after_lesson

migrations = Migrations("session log")

EVENT_VERSION = 1
"""Version of the events' bodies that this program writes."""


@migrations()
def append_only_events(db: Database) -> None:
    """Make the table of events, which nothing can change or take away."""
    db.table("event").create(
        {
            "id": str,
            "session": str,
            "seq": int,
            "at": str,
            "offset_ms": int,
            "kind": str,
            "version": int,
            "body": str,
        },
        pk="id",
        not_null={"session", "seq", "at", "offset_ms", "kind", "version", "body"},
        strict=True,
    )
    db.table("event").create_index(["session", "seq"], unique=True)
    guard_events(db)


@migrations()
def summaries(db: Database) -> None:
    """Make the tables that history reads; both can be made again from the events."""
    db.table("summary").create(
        {
            "session": str,
            "class_group": str,
            "opened_at": str,
            "plan": str,
            "room": str,
            "praise": int,
            "reminder": int,
            "margin": int,
            "recognition": str,
            "unreviewed": int,
            "closed": int,
            "settled": int,
            "carry_over": str,
        },
        pk="session",
        strict=True,
    )
    db.table("summary").create_index(["class_group", "opened_at"])
    db.table("summary").create_index(["opened_at"])
    db.table("tally").create(
        {"session": str, "phase": str, "routine": str, "praise": int, "reminder": int},
        pk=("session", "phase", "routine"),
        strict=True,
    )


@migrations()
def purges(db: Database) -> None:
    """Make the table that keeps when something was deleted for good, and how much, but not what."""
    db.table("purge").create({"id": str, "at": str, "sessions": int}, pk="id", strict=True)


@migrations()
def aftercare(db: Database) -> None:
    """Make the tables of what is looked after beyond a session; all can be made again from the events."""
    for column in ("lists_waiting", "by_guest"):
        db.table("summary").add_column(column, int, not_null_default=0)
    db.table("carry_over_answer").create(
        {"session": str, "place": int, "origin": str, "answer": str, "class_group": str},
        pk=("session", "place"),
        strict=True,
    )
    db.table("carry_over_answer").create_index(["origin"])
    db.table("promise").create(
        {
            "session": str,
            "note": str,
            "child": str,
            "by_whom": str,
            "how": str,
            "due": str,
            "words": str,
            "state": str,
            "kept_on": str,
            "line": str,
            "tell": int,
            "done_at": str,
        },
        pk=("session", "note"),
        strict=True,
    )
    db.table("promise").create_index(["state", "due"])
    db.table("award").create(
        {"session": str, "object": str, "since": str, "returned": str}, pk="session", strict=True
    )
    db.table("taught_again").create(
        {"session": str, "phase": str, "routine": str}, pk=("session", "phase", "routine"), strict=True
    )
    # A lesson without any mark earns nothing.
    db.execute(
        "UPDATE summary SET recognition = NULL WHERE praise = 0 AND reminder = 0 AND session NOT IN "
        "(SELECT session FROM event WHERE kind = 'recognition overruled')"
    )


@migrations()
def looks(db: Database) -> None:
    """Keep how much of a session waits for a look, so that an empty one waits for nothing."""
    db.table("summary").add_column("to_look_at", int, not_null_default=0)
    db.execute("UPDATE summary SET to_look_at = unreviewed")


@migrations()
def batches(db: Database) -> None:
    """Keep with each event what was recorded together with it; "" in logs before that was kept."""
    db.table("event").add_column("batch", str, not_null_default="")


@migrations()
def seals(db: Database) -> None:
    """Seal the events of each session, those of old logs as they are found."""
    db.table("seal").create({"session": str, "seq": int, "link": str}, pk="session", strict=True)
    for row in list(db.query("SELECT DISTINCT session FROM event")):
        seal_anew(db, row["session"])


@migrations()
def forgotten(db: Database) -> None:
    """Keep when something was taken out for good, how much of what, and whether its words are gone."""
    columns = {"id": str, "at": str, "what": str, "count": int, "gone": int}
    db.table("forgotten").create(columns, pk="id", strict=True)
    db.execute("INSERT INTO forgotten SELECT id, at, 'sessions', sessions, 1 FROM purge")
    db.table("purge").drop()


@migrations()
def weeks(db: Database) -> None:
    """Make the tables that weeks of lessons are counted from; all can be made again from the events."""
    db.table("phase_held").create(
        {"session": str, "phase": str, "place": int, "praise": int, "reminder": int, "named": int},
        pk=("session", "phase"),
        strict=True,
    )
    db.table("phrase_heard").create(
        {"session": str, "phrase": str, "correct": int, "wrong": int, "missed": int},
        pk=("session", "phrase"),
        strict=True,
    )
    db.table("mark_source").create(
        {"session": str, "source": str, "late": int, "marks": int},
        pk=("session", "source", "late"),
        strict=True,
    )


@migrations()
def newest_sessions(db: Database) -> None:
    """Let the newest sessions be found without a look at every other; their times have zones."""
    db.execute("CREATE INDEX summary_by_time ON summary (julianday(opened_at) DESC, session DESC)")


@migrations()
def after_lessons(db: Database) -> None:
    """Keep how long was worked on each lesson after its end; it can be made again from the events."""
    columns = {"session": str, "steps": int, "work_s": float}
    db.table("after_lesson").create(columns, pk="session", strict=True)
    for row in list(db.query("SELECT session FROM summary WHERE closed OR settled")):
        write_after_lesson(db, row["session"])


@migrations()
def few_of_many(db: Database) -> None:
    """Let days be counted, and what was left for next time be found, without a look at every lesson."""
    db.execute("CREATE INDEX summary_by_day ON summary (substr(opened_at, 1, 10))")
    db.execute("CREATE INDEX summary_left ON summary (julianday(opened_at), session) WHERE carry_over <> ''")


@migrations()
def half_year_sums(db: Database) -> None:
    """Sum up half-years of lessons; all of it can be made again from the events."""
    half_years.create(db)
    half_years.count_anew(db)


@migrations()
def awards_brought_back(db: Database) -> None:
    """Keep in which lesson a class brought back what an earlier one gave out."""
    columns = {"session": str, "origin": str, "returned": str}
    db.table("award_back").create(columns, pk=("session", "origin"), strict=True)
    db.table("award_back").create_index(["origin"])


@migrations()
def unsettled_sessions(db: Database) -> None:
    """Let the few lessons that are not settled be found without a look at every other."""
    by_time = "(julianday(opened_at) DESC, session DESC)"
    db.execute(f"CREATE INDEX summary_unsettled ON summary {by_time} WHERE NOT settled")


@migrations()
def voices_heard(db: Database) -> None:
    """Keep how surely the learnt voice was heard in each lesson; it can be made again from the events."""
    columns = {"session": str, "finds": int, "odds": float}
    db.table("voice_heard").create(columns, pk="session", strict=True)


def guard_events(db: Database) -> None:
    """Set the triggers that refuse to change or delete an event."""
    for verb in ("UPDATE", "DELETE"):
        db.execute(
            f"CREATE TRIGGER event_no_{verb.lower()} BEFORE {verb} ON event "
            "BEGIN SELECT RAISE(ABORT, 'the session log is append-only'); END"
        )


def unguard_events(db: Database) -> None:
    """Take the triggers away, inside the transaction of a purge."""
    for verb in ("update", "delete"):
        db.execute(f"DROP TRIGGER event_no_{verb}")
