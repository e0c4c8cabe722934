"""Tells whoever wants to know what has become of the lesson."""

import logging
from collections.abc import Callable

from companion.live.state import LiveState

log = logging.getLogger(__name__)

Subscriber = Callable[[LiveState], None]


class Announcer:
    """The newest state, and who is told of the next one. `tell` belongs to one thread, the rest to any."""

    def __init__(self) -> None:
        self.state = LiveState()
        self._subscribers: list[Subscriber] = []

    def subscribe(self, subscriber: Subscriber) -> Callable[[], None]:
        """Call `subscriber` with every new state; return what ends that."""
        self._subscribers.append(subscriber)
        return lambda: self._subscribers.remove(subscriber)

    def tell(self, state: LiveState) -> None:
        """Let everybody know `state`, if it is another than before."""
        if state == self.state:
            return
        self.state = state
        for subscriber in list(self._subscribers):
            try:
                subscriber(state)
            except Exception:
                log.exception("a viewer could not be told")
