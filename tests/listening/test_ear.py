"""The ear of a lesson, with a recogniser in a process of its own."""

import queue
from types import SimpleNamespace
from typing import cast

from companion.clock import steady_s
from companion.listening.ear import Catch, Ear
from companion.listening.microphone.capture import Block, Microphone
from companion.listening.sound import SAMPLE_RATE
from companion.listening.spotter_process import ProcessSpotter
from tests.listening.test_spotter_process import SECOND, Counting
from tests.waiting import until


def test_what_is_found_is_delivered_without_more_sound() -> None:
    """Nothing waits for the next piece of sound, and each catch carries the time of the first."""
    blocks: queue.Queue[Block] = queue.Queue()
    microphone = cast(Microphone, SimpleNamespace(blocks=blocks, close=lambda: None))
    caught: list[Catch] = []
    ear = Ear(microphone, lambda: ProcessSpotter(Counting), caught.append, lambda *_: None)
    began_s = steady_s()
    blocks.put(Block(SECOND, began_s, after_gap=True))
    assert until(lambda: len(caught) == 1, limit_s=60)
    blocks.put(Block(SECOND, began_s + 1, after_gap=False))
    assert until(lambda: len(caught) == 2, limit_s=60)
    ear.close()
    ear.wait(60)
    assert [catch.candidate.phrase for catch in caught] == ["second 1", "second 2", "the end"]
    assert {catch.zero_s for catch in caught} == {began_s}
    assert len(caught[0].sound) <= 2 * SAMPLE_RATE
