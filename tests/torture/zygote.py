"""A process that has imported the whole program, and forks it: a life costs no start of Python.

What that leaves out: the start of the interpreter, and importing. All else is the program's own `main`, in a
process and a session of its own. Now and then a life is begun as `python -m companion` all the same.
"""

import gc
import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path


class Zygote:
    """The process, as those see it who want a companion."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        """Start it, and wait until it has imported everything."""
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.torture.zygote"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**os.environ, **environment},
        )
        assert self._told() == "ready"

    def run(self, home: Path, words_to: Path) -> int:
        """Begin `companion run` on `home`, printing into `words_to`; return the number of its process."""
        return int(self._asked({"run": str(home), "words_to": str(words_to)}))

    def wait(self, pid: int) -> int:
        """Wait until it has ended; return its exit status, or the negative number of a signal."""
        return int(self._asked({"wait": pid}))

    def end(self) -> None:
        """End the process."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()

    def _asked(self, request: Mapping[str, object]) -> str:
        assert self._process.stdin is not None
        print(json.dumps(request), file=self._process.stdin, flush=True)
        return self._told()

    def _told(self) -> str:
        assert self._process.stdout is not None
        return self._process.stdout.readline().strip()


def serve() -> None:
    """Fork companions as they are asked for, until nobody asks any more."""
    _import_everything()
    gc.collect()
    gc.freeze()
    print("ready", flush=True)
    for line in sys.stdin:
        match json.loads(line):
            case {"run": str(home), "words_to": str(words_to)}:
                print(os.fork() or _be_companion(home, words_to), flush=True)
            case {"wait": int(pid)}:
                _, status = os.waitpid(pid, 0)
                print(os.waitstatus_to_exitcode(status), flush=True)


def _import_everything() -> None:
    """Import what a companion imports when it runs; nothing of it may start a thread."""
    sys.modules["pystray"] = None  # type: ignore[assignment]
    import anyio._backends._asyncio  # noqa: F401, PLC0415
    import uvicorn.lifespan.off  # noqa: PLC0415
    import uvicorn.loops.asyncio  # noqa: PLC0415
    import uvicorn.protocols.http.h11_impl  # noqa: F401, PLC0415

    import companion.background.run  # noqa: PLC0415
    import companion.commands.background  # noqa: PLC0415
    import companion.listening.voice.enrolled_engine  # noqa: PLC0415
    import companion.listening.voice.unenrolled_engine  # noqa: PLC0415
    import companion.listening.vosk.spotter  # noqa: F401, PLC0415

    if os.environ.get("DISPLAY"):
        from pynput import keyboard  # noqa: F401, PLC0415 - it asks the screen for its keys


def _be_companion(home: str, words_to: str) -> int:
    """Become `companion run`. Never returns."""
    from companion.cli import main  # noqa: PLC0415

    status = 1
    try:
        os.setsid()
        _speak_to(words_to)
        sys.argv = ["companion", "--home", home, "run"]
        main()
        status = 0
    except SystemExit as end:
        status = end.code if isinstance(end.code, int) else 1
    except BaseException:
        sys.excepthook(*sys.exc_info())
    finally:
        sys.stderr.flush()
        os._exit(status)


def _speak_to(path: str) -> None:
    words, nothing = os.open(path, os.O_CREAT | os.O_WRONLY | os.O_APPEND, 0o600), os.open(os.devnull, 0)
    for number, stream in ((nothing, 0), (words, 1), (words, 2)):
        os.dup2(number, stream)
    for number in (words, nothing):
        os.close(number)


if __name__ == "__main__":
    serve()
