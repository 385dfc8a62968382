"""Judges the names and addresses by which the page is called, and whether a program passed a request on."""

import ipaddress
from collections.abc import Collection, Mapping
from urllib.parse import urlsplit

_FORWARDED = (
    "forwarded", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-forwarded-server", "x-real-ip", "via",
)  # fmt: skip
_LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")


def host_name(host: str) -> str:
    """Return the name in a Host header, without its port; "" if it has none."""
    try:
        return (urlsplit(f"//{host}").hostname or "").rstrip(".").lower()
    except ValueError:
        return ""


def is_loopback(name: str) -> bool:
    """Return whether a name or address means this computer itself."""
    if name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def host_fits(host: str, names: Collection[str], listen: str = "") -> bool:
    """Return whether to answer a Host header: a known name, or an address, which no foreign name can pose as.

    Args:
        host: The Host header.
        names: Names by which the page may be called.
        listen: The address on which the page listens, if no password is set. Then only that and loopback addresses fit: a
            request for another address did not come here directly, so a program on this computer passes the page on.
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
    """Return whether a Host header names an address of another computer, or a network address of this one."""
    address = _address(host_name(host))
    # 0.0.0.0 also leads here, and any website can make a browser ask for it.
    return address is not None and not address.is_loopback and not address.is_unspecified


def asked_from(forwarded: str, address: str) -> str:
    """Return the address for which a web server on this computer says that it asks; else the one that asked.

    Only the last word counts, which the web server itself put there; those before it are the visitor's own. It serves the log
    and the waits after wrong passwords, and gives no rights.

    Args:
        forwarded: The header X-Forwarded-For, or "".
        address: The address from which the request came.
    """
    said = _address(forwarded.rpartition(",")[2].strip())
    return str(said) if said is not None and is_loopback(address) else address


def was_passed_on(headers: Mapping[str, str], version: str) -> bool:
    """Return whether a request shows that a program passed it on; one that hides it looks like a browser's."""
    # No browser speaks HTTP/1.0, but some web servers do so to the servers behind them, without adding a header.
    return version == "1.0" or any(name in headers for name in _FORWARDED)
