"""Makes links for messages: to the place that they are about, and to answer *seen*.

A seen-link is signed, ends, and does one thing: it opens a sheet with one button, which marks the alarms that one notice
reported to one contact as *seen* by that contact. It needs no password, because the message's reader may answer it, and it
lets nobody in.
"""

from dataclasses import dataclass

from monitor.model.times import DAY_MS
from monitor.page.visitors.signed_tokens import SignedTokens

SEEN_LASTS_MS = 7 * DAY_MS
"""How long a seen-link serves after the notice was decided, ms."""

_PURPOSE = "seen by message"


@dataclass(frozen=True, slots=True)
class SeenLink:
    """The subject of a seen-link: the instant at which the notice was decided (UTC ms), and its contact."""

    at: int
    contact: str


def seen_token(key: bytes, link: SeenLink) -> str:
    """Return the token of a seen-link; it ends `SEEN_LASTS_MS` after the notice, by the daemon's clock."""
    return SignedTokens(key, _PURPOSE).sign([link.at, link.contact], (link.at + SEEN_LASTS_MS) // 1000)


def read_seen(key: bytes, token: str, now_ms: int) -> SeenLink | None:
    """Return the subject of a token, or None if it is not ours or has ended.

    Args:
        key: The page's key.
        token: The token.
        now_ms: The daemon's time, UTC ms.
    """
    value = SignedTokens(key, _PURPOSE).read(token, now_ms / 1000)
    return None if value is None else SeenLink(*value)


def place_address(base: str, place: str) -> str:
    """Return the address of a place's sheet; of the yard's for ""."""
    return f"{base}/place/{place}" if place else f"{base}/"


def seen_address(base: str, key: bytes, link: SeenLink) -> str:
    """Return the address that opens a seen-link.

    Args:
        base: The page's link, without a slash at its end.
        key: The page's key.
        link: The subject of the link.
    """
    return f"{base}/m/{seen_token(key, link)}"
