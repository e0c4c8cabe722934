"""Which words a model knows, read from its graph's files without loading the model."""

import mmap
from functools import lru_cache
from pathlib import Path


def knows_word(model: Path, word: str) -> bool:
    """Say whether `word` (as the model writes it) is in the vocabulary of the model in `model`.

    In the word list where there is one, else in the symbol table that the graph carries (OpenFst's
    symbol-table.cc: each word is written behind its length in bytes, four of them, least first).
    """
    listed = model / "graph" / "words.txt"
    path = listed if listed.is_file() else model / "graph" / "Gr.fst"
    encoded = word.encode()
    symbol = b"\n" + encoded + b" " if path == listed else len(encoded).to_bytes(4, "little") + encoded
    return _holds(path, path.stat().st_mtime_ns, symbol)


@lru_cache(maxsize=1024)
def _holds(path: Path, _changed_ns: int, symbol: bytes) -> bool:
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        return content.find(symbol) >= 0
