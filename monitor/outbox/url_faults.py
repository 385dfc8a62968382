"""Why a message failed at a notification URL: our own words, made from the library's log and never repeating it.

Rules: 1. Of a URL only its scheme is shown and, if it is beyond doubt, its host. 2. A host is beyond doubt if
every way to read the URL gives the same: the library's way, and the part behind the last `@`; a password with an `@` or a `/`
that is not percent-encoded makes the two differ, and then the URL must be mended. 3. A status number is shown, a server's
words are not.
"""

import re
from urllib.parse import unquote, urlsplit

from monitor.model.connection_faults import Fault, Where, fault_in, sentence

MISTYPED = (
    "its URL may be cut in the wrong place: "
    "write @ : / ? # and % of a user name or password as %40 %3A %2F %3F %23 and %25"
)


def host_of(url: str) -> str:
    """Return the host of a URL, "" if the URL can be read in two ways or the host may be a token."""
    scheme, _, rest = url.partition("://")
    before = re.split(r"[?#]", rest, maxsplit=1)[0]
    query = rest[len(before) :]
    # A query has a first key, and only one `?`; otherwise the sign belongs to a password.
    if "@" in query.partition("=")[0] or query[1:2] == "=" or re.search(r"[?#]", query[1:]):
        return ""
    behind = re.split(r"[/:]", before.rpartition("@")[2], maxsplit=1)[0]
    try:
        parsed = urlsplit(url).hostname or ""
    except ValueError:
        return ""
    dotted = re.fullmatch(r"[0-9a-z-]+(\.[0-9a-z-]+)+|localhost", behind.lower()) is not None
    looks = dotted or (before.count("@") == 1 and re.fullmatch(r"[0-9a-z-]+", behind.lower()) is not None)
    if not looks or behind.lower() != parsed or (scheme not in _WITH_HOST and "@" not in before):
        return ""
    return behind


_WITH_HOST = frozenset(
    (
        *("http", "https", "json", "jsons", "xml", "xmls", "form", "forms", "mailto", "mailtos"),
        *("ntfy", "ntfys", "gotify", "gotifys", "matrix", "matrixs", "syslog"),
    )
)
"""Schemes with a real host after `://`; in others that part may be a token."""


def is_mistyped(url: str) -> bool:
    """Return whether a user name or password seems to hold characters that must be percent-encoded."""
    rest = url.partition("://")[2]
    return "@" in rest and not host_of(url) and url.partition("://")[0] in _WITH_HOST


def reads_in_the_clear(url: str) -> bool:
    """Return whether a password travels unencrypted to another computer."""
    scheme, _, rest = url.partition("://")
    before = re.split(r"[?#]", rest, maxsplit=1)[0]
    login, at, _ = before.rpartition("@")
    host = host_of(url)
    local = host == "localhost" or host.startswith("127.")
    plain = scheme in ("http", "json", "xml", "form", "gotify", "ntfy", "matrix") or "mode=insecure" in url.lower()
    return bool(at) and ":" in login and plain and not local


def url_doubt(url: str) -> str:
    """Return the doubt about a URL before its first use, or ""."""
    if is_mistyped(url):
        return MISTYPED
    if reads_in_the_clear(url):
        return "the password goes there in the clear, for everybody on the way to read; use the scheme with TLS"
    return ""


def reason(url: str, said: list[str]) -> str:
    """Explain why a message was not accepted.

    Args:
        url: The notification URL.
        said: The library's log of the attempt, the oldest line first; it may hold secrets.

    Returns:
        A sentence without secrets.
    """
    found, status = _last_fault(said), _last_status(said)
    mail = url.lower().startswith("mailto")
    where = _where(url, mail=mail)
    if status:
        return f"{where.what}{' at ' + where.address if where.address else ''} answered {status}; {_ADVICE.get(status, _OTHER)}"
    if found is None:
        words = f"{where.what}{' at ' + where.address if where.address else ''} did not accept the message"
        return f"{words}; {MISTYPED}" if is_mistyped(url) else words
    words = sentence(found, where)
    return f"{words}; {MISTYPED}" if found in (Fault.NAME, Fault.NOBODY, Fault.LOGIN) and is_mistyped(url) else words


def may_have_arrived(said: list[str]) -> bool:
    """Return whether a message that failed may have arrived all the same, by the library's log of the attempt.

    A server may take a message whole, and then answer too late or break off before it answers.
    """
    return not _last_status(said) and _last_fault(said) in (Fault.SILENT, Fault.BROKE_OFF)


def _last_fault(said: list[str]) -> Fault | None:
    return next((fault for one in reversed(said) if (fault := fault_in(one)) is not None), None)


def _last_status(said: list[str]) -> str:
    return next((match[1] for one in reversed(said) if (match := re.search(r"error=(\d{3})\b", one))), "")


_ADVICE = {
    "400": "it does not understand the message; mend the address",
    "401": "mend the user, password or token",
    "403": "mend the user, password or token",
    "404": "mend the address",
    "413": "the message is too long for it",
    "429": "it wants fewer messages; it is tried again later",
}
_OTHER = "its own log says why; it is tried again"


def _where(url: str, *, mail: bool) -> Where:
    host = host_of(url)
    try:
        port = urlsplit(url).port if host else None
    except ValueError:
        port = None
    return Where(
        what="the mail server" if mail else "the service",
        host=unquote(host),
        address=f"{host}:{port}" if port else host,
        authority=f"name its authority in the environment variable {'SSL_CERT_FILE' if mail else 'REQUESTS_CA_BUNDLE'}",
        tls="write `mode=insecure`" if mail else "write the scheme without its last s",
        login="user name and password in the URL (percent-encoded)",
    )
