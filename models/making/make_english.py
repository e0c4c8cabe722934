"""Makes how English words are said, `english.dict.gz`, and how often in ordinary talk, `talk.txt.gz`.

Both come from what the package `pocketsphinx` 5.1 carries: its dictionary as it is (CMU's, in the phonemes of
its model), and of its language model the chance of each word and of pairs that hang together, as hundredths
of a negative logarithm to base 10. `companion/listening/phonemes/english.md` has the licence.

Usage: python -m models.making.make_english (with the extra `bench`; a minute)
"""

import gzip
import math
import multiprocessing
import tempfile
from collections.abc import Iterator
from pathlib import Path

from pocketsphinx import NGramModel, get_model_path

LISTENING = Path(__file__).parents[2] / "companion/listening"
MODEL = get_model_path("en-us/en-us.lm.bin")
LOG10 = math.log10(1.0001)
"""The model's logarithms are to base 1.0001."""
LEAST_CHANCE = -6.5
"""Pairs of words that are said more seldom than this (log 10), once in 450 hours of talk, are left out …"""
LEAST_PULL = 0.5
"""… and those whose second word follows the first less than three times as often as it follows any word."""


def main() -> None:
    """Write both files, the same to the last bit each time."""
    dictionary = Path(get_model_path("en-us/cmudict-en-us.dict")).read_bytes()
    _write(LISTENING / "phonemes/english.dict.gz", dictionary)
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "model.arpa"
        # The library crashes in the chains of three words, which are not needed: in a process of its own.
        dump = multiprocessing.get_context("spawn").Process(target=_dump, args=(str(written),))
        dump.start()
        dump.join()
        lines = list(_chances(written))
    _write(LISTENING / "rehearsal/talk.txt.gz", "".join(f"{line}\n" for line in lines).encode())


def _dump(path: str) -> None:
    NGramModel.readfile(MODEL).write(path)


def _chances(written: Path) -> Iterator[str]:
    """Yield `word chance` for each word, and `word word chance` for each pair that hangs together."""
    model = NGramModel.readfile(MODEL)
    alone: dict[str, float] = {}
    with written.open(encoding="utf-8", errors="replace") as lines:
        for line in lines:
            _, *said = line.rstrip("\n").split("\t")[:-1] or [""]
            if line.startswith("\\3-grams"):
                return
            if not said or any(word.startswith("<") for word in said):
                continue
            chance = model.prob(said[::-1]) * LOG10
            if len(said) == 1:
                alone[said[0]] = chance
            elif alone[said[0]] + chance < LEAST_CHANCE or chance - alone[said[1]] < LEAST_PULL:
                continue
            yield f"{' '.join(said)} {round(-100 * chance)}"


def _write(path: Path, content: bytes) -> None:
    path.write_bytes(gzip.compress(content, mtime=0))
    print(f"{path}: {path.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
