"""Tortures beside each other, each in a process and a place of its own: a life mostly waits."""

import multiprocessing
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.torture.place import open_place
from tests.torture.torture import Torture

SEEDS_APART = 1_000_000
"""So far from each other are the seeds of tortures beside each other."""


def torture_beside(jobs: int, kills: int, seed: int, home: str | None, peace: float) -> Counter[str]:
    """Torture `jobs` companions at a time, `kills` times together, and return what was found."""
    shares = [kills // jobs + (job < kills % jobs) for job in range(jobs)]
    seeds = [seed + SEEDS_APART * job for job in range(jobs)]
    with ProcessPoolExecutor(jobs, multiprocessing.get_context("spawn")) as pool:
        return sum(pool.map(partial(_torture, home=home, peace=peace), shares, seeds), Counter[str]())


def _torture(kills: int, seed: int, home: str | None, peace: float) -> Counter[str]:
    with open_place(home) as place:
        return Torture(place, seed, lambda words: print(words, flush=True), in_peace=peace).run(kills)
