"""The page's settings: where it listens, by which names it may be called, and the password's hash."""

from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from monitor.page.visitors.hosts import is_loopback


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSettings:
    """The page's settings.

    Attributes:
        folder: The data folder; the page keeps its key and the guest links in it.
        listen: The address on which it listens.
        port: Its port.
        any_port: Whether it may take another port if its own is taken.
        link: The address that people use, without a slash at its end.
        hosts: Further names by which it may be called, lower case.
        password_hash: The hash to compare a password with; "" for no password.
        metrics_token: The token with which programs get the daemon's figures; "": nobody gets them.
    """

    folder: Path
    listen: str = "127.0.0.1"
    port: int = 8460
    any_port: bool = False
    link: str = "http://127.0.0.1:8460"
    hosts: tuple[str, ...] = field(default=())
    password_hash: str = ""
    metrics_token: str = ""

    @property
    def alone(self) -> bool:
        """Whether no setting leads here from another computer, and no password is set."""
        here = is_loopback(self.listen) and is_loopback(urlsplit(self.link).hostname or "") and not self.hosts
        # Only this computer's user could come without a password, so setting one shows that it is meant to be asked for.
        return here and not self.password_hash

    @property
    def secure(self) -> bool:
        """Whether people reach the page by https, through a web server in front of it."""
        return urlsplit(self.link).scheme == "https"
