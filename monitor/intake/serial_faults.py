"""Explains why a serial port cannot be used, and what to do about it."""

import errno

_DO = {
    errno.ENOENT: "is not there; is its cable in, and does the device still have this name?",
    errno.ENODEV: "is not there; is its cable in, and does the device still have this name?",
    errno.ENXIO: "is not there; is its cable in, and does the device still have this name?",
    errno.EACCES: "may not be opened by this user; let it into the group that `ls -l` names for the port, then log in anew",
    errno.EPERM: "may not be opened by this user; let it into the group that `ls -l` names for the port, then log in anew",
    errno.EBUSY: "is held by another program; end that",
    errno.EISDIR: "is a folder; name the port itself",
    errno.ENOTTY: "is no serial port; name the port itself",
}


def why_not_open(url: str, fault: Exception) -> str:
    """Return in one sentence why a port cannot be opened; the library's own words only if there are no better ones."""
    number = getattr(fault, "errno", None)
    if number in _DO:
        return f"{url} {_DO[number]}"
    return f"{url} cannot be opened: {_line(fault)}"


def why_lost(url: str, fault: Exception) -> str:
    """Return in one sentence why an open port was lost."""
    number = getattr(fault, "errno", None)
    if isinstance(fault, OSError) and number in (None, errno.EIO, errno.ENXIO, errno.ENODEV, errno.EBADF, errno.ENOENT):
        return f"{url} is gone; was the cable pulled out, or does another program read the port too?"
    return f"{url} is gone: {_line(fault)}"


def _line(fault: Exception) -> str:
    return " ".join(str(fault).split())[:160] or type(fault).__name__
