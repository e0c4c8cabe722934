"""Remedies as the pages say them: where they name a command of the terminal, the page that does the same."""

import re

from markupsafe import Markup, escape

from companion.language import _, later

PAGES = {
    "backups": (later("Set-up: The companion"), "/running"),
    "devices": (later("Set-up: Microphone"), "/setup/microphone"),
    "doctor": (later("Set-up: Ready"), "/setup/ready"),
    "forget": (later("Set-up: The companion"), "/running"),
    "keys": (later("Set-up: Clicker and keys"), "/setup/keys"),
    "log": (later("Set-up: The companion"), "/running"),
    "models": (later("Set-up: The companion"), "/running"),
    "open": (later("Today: Open"), "/"),
    "phrases": (later("Set-up: What you say"), "/setup/phrases"),
    "rehearse": (later("Set-up: Rehearsal"), "/setup/rehearsal"),
    "sessions": (later("Today"), "/"),
    "start": (later("Set-up: The companion"), "/running"),
    "stop": (later("Set-up: The companion"), "/running"),
    "timetable": (later("Set-up: The week"), "/setup/week"),
}
"""By the command: what the page is called from the first page on, and its address."""
COMMAND = re.compile(
    rf"`?\bcompanion ({'|'.join(PAGES)})\b(?: (?:--?[a-z-]+|[A-Z_]{{2,}}|list|restore|salvage|verify))*`?"
)


def on_pages(words: str) -> Markup:
    """Return `words` for a page, commands replaced by links; those that no page stands for stay."""
    done, out = 0, Markup("")
    for found in COMMAND.finditer(words):
        called, address = PAGES[found[1]]
        out += escape(words[done : found.start()]) + Markup('<a href="{}">{}</a>').format(address, _(called))
        done = found.end()
    return out + escape(words[done:])
