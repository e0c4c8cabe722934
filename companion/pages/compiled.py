"""Templates as they were compiled, kept for the next start: compiling takes longer than answering does."""

from contextlib import suppress
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path

from jinja2 import BytecodeCache
from jinja2.bccache import Bucket

from companion.errors import CompanionError
from companion.paths import Home, private_folder, replace_file

SUM_BYTES = sha256().digest_size


def compiled_in(home: Home) -> "Compiled | None":
    """Return what is kept in the private folder of `home`, or None where the disk does not let us."""
    try:
        return Compiled(private_folder(home.run / "templates"))
    except CompanionError:
        return None


class Compiled(BytecodeCache):
    """Files in a private folder, each led by its checksum: half a program would end the interpreter.

    What the disk does not give or take is compiled anew.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._maker = version("jinja2")

    def load_bytecode(self, bucket: Bucket) -> None:
        """Take what is kept of a template, if it was made of the same source by the same Python."""
        with suppress(OSError):
            kept = self._file(bucket).read_bytes()
            if sha256(kept[SUM_BYTES:]).digest() == kept[:SUM_BYTES]:
                bucket.bytecode_from_string(kept[SUM_BYTES:])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what a template was compiled to."""
        code = bucket.bytecode_to_string()
        with suppress(OSError):
            replace_file(self._file(bucket), sha256(code).digest() + code, synced=False)

    def _file(self, bucket: Bucket) -> Path:
        return self._folder / f"{bucket.key}-{self._maker}"
