"""The word of warning before names that a class sees are saved: whether a child's code stands in them."""

import re
from collections.abc import Mapping

from companion.language import _
from companion.lesson.initials import codes_in
from companion.settings.problem import Problem

_SEEN = re.compile(
    r"plans\.\d+\.(name|bring)|plans\.\d+\.phases\.\d+\.(name|routines)|new\.name"
    r"|levels\.\d+\.(name|object)|school\.tables"
)
"""The fields whose words a class may see, by their places."""
SURE = "sure"
"""The field of a form that names the codes which are to stay."""
_BETWEEN = "; "


def doubts(said: Mapping[str, str], standing: Mapping[str, str]) -> tuple[list[Problem], str]:
    """Return what is to be asked about the fields of a form, and what its field `sure` says afterwards.

    standing: what the fields have in the file; nobody is asked about that again.
    """
    sure = [code for code in said.get(SURE, "").split(_BETWEEN) if code]
    asked = []
    for place, words in said.items():
        if not _SEEN.fullmatch(place):
            continue
        known = {*codes_in(standing.get(place, "")), *sure}
        if codes := [code for code in codes_in(words) if code not in known]:
            asked.append(Problem(tuple(place.split(".")), _question(codes)))
            sure += codes
    return asked, _BETWEEN.join(dict.fromkeys(sure))


def _question(codes: list[str]) -> str:
    return _(
        "{codes} may stand for a child, and the class may see these words; "
        "write them without, or press the button once more to keep them as they are",
        codes=", ".join(codes),
    )
