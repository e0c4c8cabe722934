"""What a killed companion had started ends by itself."""

import multiprocessing
import os
import subprocess
import sys
from multiprocessing.connection import Connection
from time import sleep

import psutil

from companion.parent import child, end_with
from tests.waiting import until

AGES_S = 9999.0


def load_for_ever(pipe: Connection) -> None:
    """Be a recogniser that never comes to look at its pipe again."""
    pipe.send("loads")
    sleep(AGES_S)


def hang() -> None:
    """Be a program that asks a sound system which never answers."""
    end_with(int(sys.argv[1]))
    print("hangs", flush=True)
    sleep(AGES_S)


def start_both() -> None:
    """Be a companion that has started both."""
    ours, theirs = multiprocessing.Pipe()
    first = child(load_for_ever, theirs)
    first.start()
    with subprocess.Popen(program("hang"), stdout=subprocess.PIPE, text=True) as second:
        assert second.stdout
        print(first.pid, second.pid, ours.recv(), second.stdout.readline().strip(), flush=True)
        sleep(AGES_S)


def program(name: str) -> list[str]:
    """Return the command that does what a function of this file does, told the number of this process."""
    return [sys.executable, "-c", f"from tests import test_parent as of; of.{name}()", str(os.getpid())]


def test_whatever_it_does_a_child_ends_with_the_process_that_started_it() -> None:
    """A killed companion can tell nobody to end; a busy or hanging child looks at nothing."""
    with subprocess.Popen(program("start_both"), stdout=subprocess.PIPE, text=True) as starter:
        assert starter.stdout
        *numbers, loads, hangs = starter.stdout.readline().split()
        assert (loads, hangs) == ("loads", "hangs")
        children = [psutil.Process(int(number)) for number in numbers]
        starter.kill()
    assert until(lambda: not any(one.is_running() for one in children))


def test_a_child_goes_on_as_long_as_the_process_that_started_it() -> None:
    """And comes to its own end."""
    one = child(sleep, 0.1)
    one.start()
    one.join()
    assert one.exitcode == 0
