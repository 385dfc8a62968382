"""Checks whether the page answers at its address, and who holds the port if it does not."""

import contextlib
import socket
from pathlib import Path

from monitor.configuration import Configuration
from monitor.model.errors import UnavailableError


def page_trouble(configuration: Configuration, *, running: bool) -> tuple[bool, str]:
    """Return whether the page's port is fine, and a sentence about it."""
    from monitor.page import hash_trouble  # noqa: PLC0415 (the page's parts are loaded where they are needed)

    page = configuration.page
    if page.password is not None and (trouble := hash_trouble(page.password.get_secret_value())):
        return False, trouble
    only = "" if page.password is not None else ", for this computer only (`page.password_file` is not set)"
    with socket.socket(socket.AF_INET6 if ":" in page.listen else socket.AF_INET) as one:
        # Servers set this option too: with it, a port closed a moment ago counts as free.
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((page.listen, page.port))
        except socket.gaierror:
            return (
                False,
                f'"{page.listen}" is no address of this computer; write one in `page.listen`, such as "127.0.0.1"',
            )
        except PermissionError:
            return False, "ports below 1024 are kept for the system; choose another `page.port`"
        except OSError as fault:
            return _taken(configuration, fault, running=running)
    if running:
        return False, "nobody listens there, though the daemon runs; its log says why"
    return True, f"free; the page will be at {page.link}{only}"


def password_trouble(configuration: Configuration) -> str:
    """Return why the page's password, if it stands in plain words, is easily guessed; "" if it is not."""
    from monitor.page import guess_trouble, is_hash  # noqa: PLC0415 (the page's parts are loaded where they are needed)

    password = configuration.page.password
    if password is None or is_hash(password.get_secret_value()):
        return ""
    trouble = guess_trouble(password.get_secret_value(), [configuration.settings.site.name])
    return trouble and f"the password is no secret: {trouble}"


def _taken(configuration: Configuration, fault: OSError, *, running: bool) -> tuple[bool, str]:
    from monitor.page import is_ours, load_key  # noqa: PLC0415 (the page's parts are loaded where they are needed)

    page = configuration.page
    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(page.listen, page.listen)  # noqa: S104 (compared, not listened at)
    with contextlib.suppress(UnavailableError):
        if is_ours(host, page.port, load_key(configuration.data)):
            return True, f"the daemon shows the page at {page.link}"
    if not isinstance(fault, OSError) or fault.errno not in (98, 48, 10048):
        return False, f"{fault.strerror or fault}; choose another `page.listen` or `page.port`"
    who = held_by(page.port)
    without = "; the daemon runs without its page" if running else ""
    return False, f"taken by {who or 'another program'}{without}; end that, or choose another `page.port`"


def held_by(port: int) -> str:
    """Return who listens on a TCP port: `nginx (process 812)`; "" if this user may not know."""
    wanted = {line.split()[9] for line in _listening() if int(line.split()[1].rpartition(":")[2], 16) == port}
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            for file in (process / "fd").iterdir():
                link = str(file.readlink())
                if link.startswith("socket:[") and link[8:-1] in wanted:
                    return f"{(process / 'comm').read_text().strip()} (process {process.name})"
    return ""


def _listening() -> list[str]:
    found: list[str] = []
    for table in ("/proc/net/tcp", "/proc/net/tcp6"):
        with contextlib.suppress(OSError):
            found += [line for line in Path(table).read_text().splitlines()[1:] if line.split()[3] == "0A"]
    return found
