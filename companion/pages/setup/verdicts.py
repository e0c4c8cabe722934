"""How good a cue or a phrase is, in plain words: long enough, unlike the others, rare in talk."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from companion.errors import CompanionError
from companion.language import _, later
from companion.lesson.vocabulary import Vocabulary
from companion.listening.rehearsal.phrase_check import Grade, Report, check
from companion.pages.desk import Desk
from companion.settings.settings import TABLE

WORDS = {
    Grade.GOOD: later("Good. {why}"),
    Grade.FAIR: later("Will do, but {why}"),
    Grade.POOR: later("Better choose another: {why}"),
}


@dataclass(frozen=True, slots=True)
class PhraseVerdict:
    """What is told of one phrase."""

    words: str
    better: tuple[str, ...] = ()
    good: bool = True


def verdicts(
    desk: Desk,  # noqa: ARG001 - a language that needs a speech model is asked for there
    values: Mapping[str, Any],
    *,
    phrases: Sequence[str],
    cue: str | None = None,
) -> dict[str, PhraseVerdict]:
    """Return what is told of the cue, as it stands or as it is asked for, and of each phrase."""
    listening = values.get("listening", {})
    cue = cue if cue is not None else listening.get("cue")
    tables = [str(table) for table in values.get("school", {}).get("tables", ())]
    spoken = {phrase: phrase.replace(TABLE, tables[0]) if tables else phrase for phrase in phrases}
    vocabulary = Vocabulary(
        tuple(dict.fromkeys(spoken.values())), cue=cue or None, language=listening.get("language", "en")
    )
    try:
        reports = {report.text: _verdict(report) for report in check(vocabulary)}
    except CompanionError as error:
        return {
            text: PhraseVerdict(f"{error.what} {error.remedy}", good=False) for text in (*phrases, cue or "")
        }
    of_phrases = {phrase: reports[said] for phrase, said in spoken.items()}
    return of_phrases | ({cue: reports[cue]} if cue else {})


def _verdict(report: Report) -> PhraseVerdict:
    why = "; ".join(report.remarks)
    words = _(WORDS[report.verdict], why=why).strip()
    return PhraseVerdict(words, report.proposals, report.verdict is Grade.GOOD)
