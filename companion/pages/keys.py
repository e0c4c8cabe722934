"""The secrets that let a browser in to the pages, and where they are kept between runs."""

import hashlib
import hmac
import json
import secrets
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date

from companion.errors import CompanionError
from companion.language import _
from companion.paths import Home, private_folder, replace_file

TOKEN_LIVES_S = 60.0
"""How long an address that lets in once can be used."""
DOOR_LETTERS = 32
"""128 bits as hexadecimal digits."""


@dataclass(frozen=True, slots=True)
class Doorway:
    """Where the pages are served and with which secret, kept so that open pages survive a restart."""

    port: int
    secret: bytes
    day: str
    """The day for which the secret was made, as in 2026-09-14."""

    @classmethod
    def recall(cls, home: Home, today: date) -> "Doorway":
        """Return the place of the last run, with a new secret if that was on another day."""
        place = _kept(home)
        if place is None:
            return cls(0, secrets.token_bytes(32), today.isoformat())
        return place if place.day == today.isoformat() else place.renewed(today)

    def renewed(self, today: date) -> "Doorway":
        """Return the same place with a new secret: everything that is open is closed."""
        return replace(self, secret=secrets.token_bytes(32), day=today.isoformat())

    def keep(self, home: Home) -> None:
        """Write the place down for this user only (0600); what reads it finds the old one or the new.

        Raises OSError if the disk does not take it.
        """
        path = private_folder(home.run) / "pages.json"
        kept = {"port": self.port, "secret": self.secret.hex(), "day": self.day}
        replace_file(path, json.dumps(kept).encode())


def close_all(home: Home, today: date) -> None:
    """Close every page that is open in any browser, whichever process serves it.

    Raises CompanionError if the disk does not take the new secret: then all stay open.
    """
    try:
        Doorway.recall(home, today).renewed(today).keep(home)
    except OSError as error:
        raise CompanionError(
            _(
                "The pages could not be closed: the disk does not take a new secret ({strerror}).",
                strerror=error.strerror,
            ),
            safe=_("Nothing was changed; pages that are open stay open."),
            remedy=_("Free or unlock the disk, or close the browser and end the companion: companion stop"),
        ) from error


def opening_words(address: str, *, opened: bool) -> str:
    """Return how a user gets to the pages by `address`, where no browser was `opened` or it shows none."""
    if opened:
        return _(
            "The browser was asked to open the pages. If it shows none, open within a minute: {address}",
            address=address,
        )
    return _("Open once, within a minute, in your own browser: {address}", address=address)


def secret_of(home: Home, fallback: bytes) -> Callable[[], bytes]:
    """Return what gives the secret that is kept just now, or the last known where it can't be read."""
    path, seen, known = home.run / "pages.json", 0, fallback

    def secret() -> bytes:
        nonlocal seen, known
        with suppress(OSError):
            if (changed := path.stat().st_mtime_ns) != seen and (place := _kept(home)) is not None:
                seen, known = changed, place.secret
        return known

    return secret


def _kept(home: Home) -> Doorway | None:
    try:
        kept = json.loads((home.run / "pages.json").read_text(encoding="utf-8"))
        place = Doorway(int(kept["port"]), bytes.fromhex(kept["secret"]), str(kept["day"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return place if len(place.secret) >= 32 and 0 <= place.port < 65536 else None


class Keys:
    """What opens the pages: the door's name, the forms' token, and tokens that let in once.

    secret: gives the secret that holds just now; with another one, everything given out before is void.
    """

    def __init__(self, secret: Callable[[], bytes], steady_s: Callable[[], float] = time.monotonic) -> None:
        self._secret = secret
        self._steady_s = steady_s
        self._tokens: dict[str, tuple[float, bytes]] = {}
        self._lock = threading.Lock()
        self._closed = False

    def close(self) -> None:
        """Open nothing any more: the pages end."""
        self._closed = True

    def one_time_token(self) -> str:
        """Return a token that opens the pages once, within a minute."""
        token, now_s = secrets.token_urlsafe(32), self._steady_s()
        with self._lock:
            self._tokens = {one: kept for one, kept in self._tokens.items() if kept[0] > now_s}
            self._tokens[token] = (now_s + TOKEN_LIVES_S, self._secret())
        return token

    def spend(self, token: str) -> bool:
        """Return whether `token` opens the pages; it never does again."""
        with self._lock:
            found = next((one for one in self._tokens if _same(one, token)), "")
            ends_s, secret = self._tokens.pop(found, (0.0, b""))
        return bool(found) and self._steady_s() < ends_s and secret == self._secret()

    @property
    def door(self) -> str:
        """The first part of the path of every page. Who knows it is let in; it is in no Referer."""
        return self._made_of(b"door")[:DOOR_LETTERS]

    def opens(self, door: str) -> bool:
        """Whether `door` is the one of today."""
        return not self._closed and _same(door, self.door)

    @property
    def page_token(self) -> str:
        """What each form of the pages carries, and no other site knows."""
        return self._made_of(b"page")

    def knows(self, page_token: str) -> bool:
        """Whether `page_token` is the one that the forms carry just now."""
        return _same(page_token, self.page_token)

    def _made_of(self, purpose: bytes) -> str:
        return hmac.new(self._secret(), purpose, hashlib.sha256).hexdigest()


def _same(one: str, other: str) -> bool:
    """Whether two words are the same, without telling by the time it takes where they differ."""
    return hmac.compare_digest(one.encode("utf-8", "replace"), other.encode("utf-8", "replace"))
