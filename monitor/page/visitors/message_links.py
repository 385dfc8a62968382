"""Links in messages: to the place that is meant, and one that says *seen* to what the message tells.

A seen-link is signed, ends, and does one thing: opened, it shows one button; pressed, the alarms that were told to one
contact at one instant are *seen* by that contact. It needs no password, since who has
the message may answer it, and it lets nobody in.
"""

from dataclasses import dataclass

from monitor.model.times import DAY_MS
from monitor.page.visitors.signed_tokens import SignedTokens

SEEN_LASTS_MS = 7 * DAY_MS
"""How long a seen-link serves after the notice was decided."""

_PURPOSE = "seen by message"


@dataclass(frozen=True, slots=True)
class SeenLink:
    """What a seen-link is about: the instant at which the notice was decided (UTC ms), and the contact it went to."""

    at: int
    contact: str


def seen_token(key: bytes, link: SeenLink) -> str:
    """Return the token of a seen-link; it ends `SEEN_LASTS_MS` after the notice, by the yard's clock."""
    return SignedTokens(key, _PURPOSE).sign([link.at, link.contact], (link.at + SEEN_LASTS_MS) // 1000)


def read_seen(key: bytes, token: str, now_ms: int) -> SeenLink | None:
    """Return what a token is about, or None where it is not ours or has ended (`now_ms`: the yard's clock)."""
    value = SignedTokens(key, _PURPOSE).read(token, now_ms / 1000)
    return None if value is None else SeenLink(*value)


def place_address(base: str, place: str) -> str:
    """Return the address of a place's page; of the yard's for ""."""
    return f"{base}/place/{place}" if place else f"{base}/"


def seen_address(base: str, key: bytes, link: SeenLink) -> str:
    """Return the address that opens a seen-link."""
    return f"{base}/m/{seen_token(key, link)}"
