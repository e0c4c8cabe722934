"""Remedies as the pages say them: where they name a command of the terminal, the page that does the same."""

import re

from markupsafe import Markup, escape

PAGES = {
    "backups": ("Set-up: The companion", "/running"),
    "devices": ("Set-up: Microphone", "/setup/microphone"),
    "doctor": ("Set-up: Ready", "/setup/ready"),
    "forget": ("Set-up: The companion", "/running"),
    "keys": ("Set-up: Clicker and keys", "/setup/keys"),
    "log": ("Set-up: The companion", "/running"),
    "models": ("Set-up: The companion", "/running"),
    "open": ("Today: Open", "/"),
    "phrases": ("Set-up: What you say", "/setup/phrases"),
    "rehearse": ("Set-up: Rehearsal", "/setup/rehearsal"),
    "sessions": ("Today", "/"),
    "start": ("Set-up: The companion", "/running"),
    "stop": ("Set-up: The companion", "/running"),
    "timetable": ("Set-up: The week", "/setup/week"),
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
        out += escape(words[done : found.start()]) + Markup('<a href="{}">{}</a>').format(address, called)
        done = found.end()
    return out + escape(words[done:])
