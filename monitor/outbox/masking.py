"""Takes secrets out of what other people's code says about a URL."""

import re
from urllib.parse import parse_qsl, unquote, urlsplit

MASK = "***"
_SHORTEST = 4
"""Shorter pieces are words like `to` or `v1`; masking them would leave no sentence."""


def secrets_of(url: str) -> tuple[str, ...]:
    """Return every piece of a URL that may be secret, the longest first: user, password, path, values of the query.

    The host and port are not secret: a person needs them to see which server failed.
    """
    try:
        parts = urlsplit(url)
        host = parts.hostname or ""
    except ValueError:
        return (url,)
    pieces = {url, parts.path, parts.query, parts.fragment, parts.netloc.rpartition("@")[0]}
    pieces.update(parts.netloc.rpartition("@")[0].split(":"))
    pieces.update(parts.path.split("/"))
    pieces.update(value for _, value in parse_qsl(parts.query))
    if parts.scheme not in {"http", "https"}:
        # In many notification URLs the token stands where a host would.
        pieces.update({} if re.fullmatch(r"[0-9.:]+|localhost|.+\..+", host) else {parts.netloc, host})
    pieces.update([unquote(piece) for piece in pieces])
    return tuple(sorted((piece for piece in pieces if len(piece) >= _SHORTEST), key=lambda piece: (-len(piece), piece)))


def masked(text: str, secrets: tuple[str, ...]) -> str:
    """Return a text with every secret replaced, whatever its case, on one line."""
    for secret in secrets:
        text = re.sub(re.escape(secret), MASK, text, flags=re.IGNORECASE)
    return " ".join(text.split())
