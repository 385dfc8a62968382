"""Links on bags: whoever scans one sees the sheet of that one lot without names, and nothing else, for five years.

A link is signed and kept nowhere, so a bag can be labelled again with the same code. A new key of the page ends all of them.
"""

from urllib.parse import quote, urlsplit

from monitor.model.times import DAY_MS
from monitor.page.visitors.hosts import host_name, is_loopback
from monitor.page.visitors.signed_tokens import SignedTokens

BAG_LASTS_MS = 5 * 366 * DAY_MS
"""How long a link serves after its lot was made, ms: longer than a bag lies about."""

_PURPOSE = "bag of a lot"


def leads_here(base: str) -> bool:
    """Return whether the page's link leads to its own computer alone, so that no phone could follow it."""
    return is_loopback(host_name(urlsplit(base).netloc))


def lot_path(lot: str) -> str:
    """Return the path of a lot's sheet."""
    return f"/lots/{quote(lot, safe='')}"


def lot_address(base: str, lot: str) -> str:
    """Return the address of a lot's sheet, for those who keep the yard and their guests."""
    return f"{base}{lot_path(lot)}"


def bag_address(base: str, key: bytes, lot: str, made_ms: int) -> str:
    """Return the address that shows a lot to whoever has one of its bags.

    Args:
        base: The page's link, without a slash at its end.
        key: The page's key.
        lot: The lot's id.
        made_ms: When it was made, UTC ms; five years later the link ends.
    """
    return f"{base}/bag/{SignedTokens(key, _PURPOSE).sign(lot, (made_ms + BAG_LASTS_MS) // 1000)}"


def read_bag(key: bytes, token: str, now_ms: int) -> str | None:
    """Return the lot of a link, or None if it is not ours or has ended.

    Args:
        key: The page's key.
        token: The token.
        now_ms: The daemon's time, UTC ms.
    """
    value = SignedTokens(key, _PURPOSE).read(token, now_ms / 1000)
    return value if isinstance(value, str) else None
