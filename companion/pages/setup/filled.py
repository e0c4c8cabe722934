"""A form as a page shows it: what the file has, what was typed into it, and what is wrong with that."""

from collections.abc import Iterable, Mapping

from companion.settings.problem import Problem


class Filled:
    """The fields of one step. A template asks for each by its place; what it did not ask about is `rest`."""

    def __init__(
        self, values: Mapping[str, str], typed: Mapping[str, str], problems: Iterable[Problem]
    ) -> None:
        self._values = values
        self._typed = typed
        self._wrong = {problem.place: problem for problem in problems}
        self._asked: set[str] = set()

    def value(self, place: str) -> str:
        """Return what stands in a field."""
        return self._typed.get(place, self._values.get(place, ""))

    def differs(self, place: str) -> bool:
        """Whether something else was typed than the file has."""
        return self.value(place).split() != self.base(place).split()

    def base(self, place: str) -> str:
        """Return what the file has."""
        return self._values.get(place, "")

    def wrong(self, *places: str) -> str:
        """Return what is wrong with a field or a row, which may stand in the file under several keys."""
        self._asked.update(places)
        return " ".join(_sentence(self._wrong[place]) for place in places if place in self._wrong)

    @property
    def rest(self) -> list[str]:
        """What is wrong beside that."""
        return [_sentence(one) for place, one in self._wrong.items() if place not in self._asked]

    @property
    def is_good(self) -> bool:
        """Whether nothing is wrong."""
        return not self._wrong


def _sentence(problem: Problem) -> str:
    words = f"{problem.words[0].upper()}{problem.words[1:].rstrip('.')}."
    return f"{problem.value}: {words}" if problem.value and problem.value not in words else words
