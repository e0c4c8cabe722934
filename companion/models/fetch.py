"""Fetches one archive over a school's network: TLS, proxy, resume, and never more than announced."""

import ssl
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import httpx
import truststore

from companion.errors import CompanionError
from companion.language import _, later

Progress = Callable[[int, int | None], None]
"""Called with the bytes that are here and the bytes in all (None when nobody knows)."""

_TRIES = 4
_PATIENCE = httpx.Timeout(30.0, connect=15.0)
_MOST_BYTES = 3_000_000_000
"""No small model's archive is larger; ends a server that never stops sending."""
_KEPT = later("What has arrived is kept, and the next try goes on from there.")


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an archive comes from, and how the way there is guarded."""

    address: str
    expected_bytes: int | None = None
    """Exact size where it is known; any other size is refused."""
    proxy: str | None = None
    """Address of a proxy; without one the system's own settings (HTTPS_PROXY) hold."""
    plain_http: bool = False
    """Whether an unencrypted address will do, because a confirmed checksum is checked afterwards."""


class _BrokenLineError(Exception):
    """The connection ended early; another try may go on from there."""


def fetch(source: Origin, destination: Path, on_progress: Progress, *, pause_s: float = 1.0) -> None:
    """Fetch `source` into the file `destination`, going on where an earlier try broke off.

    A part lies beside it as `NAME.part` (and `NAME.part.tag`, the server's mark of the version).
    pause_s: wait before the second try, doubled before each further one.
    Raises CompanionError in plain words; OSError when the disk refuses.
    """
    _check_scheme(source, source.address)
    for attempt in range(_TRIES):
        try:
            with httpx.Client(
                verify=_trust(), proxy=source.proxy, timeout=_PATIENCE, follow_redirects=True
            ) as client:
                _fetch_once(client, source, destination, on_progress)
        except (_BrokenLineError, httpx.TransportError) as error:
            if _is_distrust(error):
                raise _distrusted(source.address) from error
            if attempt + 1 == _TRIES:
                raise _unreachable(source, error) from error
            time.sleep(pause_s * 2**attempt)
        except (httpx.InvalidURL, httpx.TooManyRedirects, ValueError) as error:
            raise CompanionError(
                _("The address {address} can't be used: {error}.", address=source.address, error=error)
            ) from error
        else:
            return


def _fetch_once(client: httpx.Client, source: Origin, destination: Path, on_progress: Progress) -> None:
    part = destination.with_name(destination.name + ".part")
    tag = destination.with_name(destination.name + ".part.tag")
    have = part.stat().st_size if part.exists() and tag.exists() else 0
    headers = {"Accept-Encoding": "identity"}
    if have:
        headers |= {"Range": f"bytes={have}-", "If-Range": tag.read_text(encoding="ascii")}
    with client.stream("GET", source.address, headers=headers) as response:
        for step in (*response.history, response):
            _check_scheme(source, str(step.url))
        if response.status_code == httpx.codes.REQUESTED_RANGE_NOT_SATISFIABLE:
            part.unlink(missing_ok=True)
            raise _BrokenLineError(_("the part on this machine does not fit the file on the server"))
        if response.status_code not in (httpx.codes.OK, httpx.codes.PARTIAL_CONTENT):
            raise CompanionError(
                _(
                    "The server answered {status_code} {reason_phrase} for {address}.",
                    status_code=response.status_code,
                    reason_phrase=response.reason_phrase,
                    address=source.address,
                ),
                remedy=_("Check the address, or take a mirror with --from."),
            )
        have = have if _goes_on_at(response, have) else 0
        total = _total(response, have)
        if source.expected_bytes is not None and total not in (None, source.expected_bytes):
            part.unlink(missing_ok=True)
            raise _wrong_size(
                _(
                    "The server behind {address} would send {count} bytes instead of {expected}: that is "
                    "another file.",
                    address=source.address,
                    count=total,
                    expected=source.expected_bytes,
                )
            )
        _remember_version(response, tag)
        have = _save(response, part, have, source=source, on_progress=on_progress)
    if total is not None and have < total:
        raise _BrokenLineError(_("{have} of {total} bytes arrived", have=have, total=total))
    if source.expected_bytes is not None and have != source.expected_bytes:
        part.unlink(missing_ok=True)
        raise _wrong_size(
            _(
                "The server behind {address} sent {count} bytes instead of {expected}: that is another file.",
                address=source.address,
                count=have,
                expected=source.expected_bytes,
            )
        )
    part.replace(destination)
    tag.unlink(missing_ok=True)


def _save(response: httpx.Response, part: Path, have: int, *, source: Origin, on_progress: Progress) -> int:
    total = _total(response, have) or source.expected_bytes
    most = total or _MOST_BYTES
    with part.open("ab" if have else "wb") as file:
        for chunk in response.iter_raw():
            have += len(chunk)
            if have > most:
                raise _too_much(source, most)
            file.write(chunk)
            on_progress(have, total)
    return have


def _goes_on_at(response: httpx.Response, have: int) -> bool:
    if response.status_code != httpx.codes.PARTIAL_CONTENT:
        return False
    if not response.headers.get("Content-Range", "").startswith(f"bytes {have}-"):
        raise _BrokenLineError(_("the server sent another part than the one asked for"))
    return True


def _total(response: httpx.Response, have: int) -> int | None:
    length = response.headers.get("Content-Length", "")
    return have + int(length) if length.isdecimal() else None


def _remember_version(response: httpx.Response, tag: Path) -> None:
    # Without a strong mark two versions of a file could be glued together: then nothing is resumed.
    mark = response.headers.get("ETag", "")
    if not mark or mark.startswith("W/"):
        mark = response.headers.get("Last-Modified", "")
    if mark:
        tag.write_text(mark, encoding="ascii")
    else:
        tag.unlink(missing_ok=True)


def _trust() -> ssl.SSLContext:
    # The system's own store: many school networks add a certificate of their own to it.
    return truststore.SSLContext(ssl.PROTOCOL_TLS_CLIENT)


def _check_scheme(source: Origin, address: str) -> None:
    if address.startswith("https://") or (source.plain_http and address.startswith("http://")):
        return
    raise CompanionError(
        _(
            "{address} is not an encrypted (https) address, and no confirmed checksum is known "
            "for this model.",
            address=address,
        ),
        safe=_("Nothing was fetched."),
        remedy=_("Take an https address, or give the checksum that you trust with --sha256."),
    )


def _is_distrust(error: BaseException | None) -> bool:
    while error is not None:
        if isinstance(error, ssl.SSLCertVerificationError):
            return True
        error = error.__cause__ or error.__context__
    return False


def _distrusted(address: str) -> CompanionError:
    return CompanionError(
        _(
            "The server behind {address} could not show who it is (its certificate is not trusted here).",
            address=address,
        ),
        safe=_("Nothing was fetched."),
        remedy=_(
            "On a school network ask for its certificate to be installed, or bring the file on a "
            "stick and use `companion models add FILE`."
        ),
    )


def _unreachable(source: Origin, error: Exception) -> CompanionError:
    return CompanionError(
        _(
            "{address} could not be fetched: {reason}.",
            address=source.address,
            reason=_why(error),
        ),
        safe=_(_KEPT),
        remedy=_(
            "Try again later, through a proxy (--proxy), from a mirror (--from), or from a stick "
            "(`companion models add FILE`)."
        ),
    )


def _why(error: Exception) -> str:
    match error:
        case _BrokenLineError():
            return str(error)
        case httpx.ProxyError():
            return _("the proxy does not let it through")
        case httpx.ConnectError():
            return _("there is no connection to it")
        case httpx.TimeoutException():
            return _("no answer came in time")
    return _("the line broke")


def _too_much(source: Origin, most: int) -> CompanionError:
    if source.expected_bytes is None:
        return _wrong_size(
            _(
                "The server behind {address} sent more than {count} bytes: that is another file.",
                address=source.address,
                count=most,
            )
        )
    return _wrong_size(
        _(
            "The server behind {address} sent more than {count} bytes instead of {expected}: that is another "
            "file.",
            address=source.address,
            count=most,
            expected=source.expected_bytes,
        )
    )


def _wrong_size(what: str) -> CompanionError:
    return CompanionError(
        what,
        safe=_("Nothing was installed."),
        remedy=_("Take another mirror with --from."),
    )
