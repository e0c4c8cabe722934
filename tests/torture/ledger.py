"""What was asked of the companion, and what it has confirmed; held against its log afterwards."""

from collections import Counter
from dataclasses import dataclass, field

from companion.lesson.event import MarkMade
from companion.lesson.fold import fold
from companion.lesson.mark import Source
from companion.log.copies import all_set_aside
from companion.log.damage import damages
from companion.log.store import open_log
from companion.log.summary import summary_of
from companion.paths import Home
from companion.recording.rescue import RescueFile

MUST_BE_NONE = (
    "lost",
    "doubled",
    "damages",
    "wrong summaries",
    "left open",
    "set aside",
    "left in the rescue file",
    "crashes",
    "failed starts",
    "failed ends",
    "tracebacks",
    "children left behind",
)
"""Figures that are to be 0."""


@dataclass(slots=True)
class Ledger:
    """Marks by the way in which they came, and what else was seen."""

    asked: Counter[Source] = field(default_factory=Counter)
    confirmed: Counter[Source] = field(default_factory=Counter)
    events: list[tuple[str, int]] = field(default_factory=list)
    """Session and number of each mark whose number was told."""
    wishes: list[str] = field(default_factory=list)
    """Each wish of a page that was answered: the id of its event."""
    seen: Counter[str] = field(default_factory=Counter)

    def check(self, home: Home) -> Counter[str]:
        """Return the figures of one home, after a last start and end in peace."""
        with open_log(home.log) as log:
            summaries = log.summaries()
            events = [event for one in summaries for event in log.events(one.session)]
            wrong = sum(summary_of(fold(log.events(one.session))) != one for one in summaries)
        made = [event for event in events if isinstance(event.body, MarkMade)]
        places, ids = Counter((event.session, event.seq) for event in made), Counter(e.id for e in events)
        by_source = Counter(event.body.source for event in made if isinstance(event.body, MarkMade))
        found = [places[place] for place in self.events] + [ids[wish] for wish in self.wishes]
        lost = found.count(0) + sum((self.confirmed - by_source).values())
        doubled = sum(number > 1 for number in found) + sum((by_source - self.asked).values())
        return self.seen + Counter(
            {
                "sessions": len(summaries),
                "events": len(events),
                "lost": lost,
                "doubled": doubled,
                "damages": len(damages(home.log)),
                "wrong summaries": wrong,
                "left open": max(0, sum(not one.closed for one in summaries) - 1),
                "set aside": len(all_set_aside(home.log)),
                "left in the rescue file": int(RescueFile.beside(home.log).path.exists()),
                **{f"confirmed by {source}": number for source, number in self.confirmed.items()},
                **{f"asked by {source}": number for source, number in self.asked.items()},
            }
        )
