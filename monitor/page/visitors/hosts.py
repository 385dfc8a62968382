"""By which names and addresses the page is asked for, and whether a program passed a request on."""

import ipaddress
from collections.abc import Collection, Mapping
from urllib.parse import urlsplit

_FORWARDED = (
    "forwarded", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-forwarded-server", "x-real-ip", "via",
)  # fmt: skip
_LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")


def host_name(host: str) -> str:
    """Return the name in a Host header, without its port; "" where it is none."""
    try:
        return (urlsplit(f"//{host}").hostname or "").rstrip(".").lower()
    except ValueError:
        return ""


def is_loopback(name: str) -> bool:
    """Tell whether a name or address means this computer itself."""
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def host_fits(host: str, names: Collection[str], listen: str = "") -> bool:
    """Tell whether a Host header may be answered: a known name, or an address, which no foreign name can pose as.

    Where `listen` says on which address the page listens (no password is set), only that one and loopback are taken: whoever
    asks for another address did not come here, so a program on this computer passes the page on.
    """
    name = host_name(host)
    if not name:
        return False
    address = _address(name)
    if address is None:
        return name in _LOOPBACK_NAMES or name in names
    own = _address(listen)
    return own is None or address.is_loopback or name in names or own.is_unspecified or address == own


def _address(name: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(name)
    except ValueError:
        return None


def is_elsewhere(host: str) -> bool:
    """Tell whether a Host header names an address of another computer, or of this one in a network."""
    address = _address(host_name(host))
    # 0.0.0.0 leads here as well, and any site may make a browser ask for it.
    return address is not None and not address.is_loopback and not address.is_unspecified


def was_passed_on(headers: Mapping[str, str], version: str) -> bool:
    """Tell whether a request shows that a program passed it on; one that hides it cannot be told from a browser."""
    # No browser speaks HTTP/1.0; some web servers do so to what stands behind them and add no header of their own.
    return version == "1.0" or any(name in headers for name in _FORWARDED)
