"""What the page is told of its own: where it listens, by which names it may be called, and the password's hash."""

from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from monitor.page.visitors.hosts import is_loopback


@dataclass(frozen=True, slots=True, kw_only=True)
class PageSettings:
    """All that the page is configured by.

    Attributes:
        folder: The data folder; the page keeps its key and the guest links in it.
        listen: Address it listens on.
        port: Port; with `any_port`, another is taken where it is not free.
        link: Address that people are told, without a slash at its end.
        hosts: Further names by which it may be called, lower case.
        password_hash: What the password is compared with, "" where there is none.
    """

    folder: Path
    listen: str = "127.0.0.1"
    port: int = 8460
    any_port: bool = False
    link: str = "http://127.0.0.1:8460"
    hosts: tuple[str, ...] = field(default=())
    password_hash: str = ""

    @property
    def alone(self) -> bool:
        """Whether nothing in the configuration leads here from another computer, nor asks who is there."""
        here = is_loopback(self.listen) and is_loopback(urlsplit(self.link).hostname or "") and not self.hosts
        # A password has no use while only this computer comes: whoever sets one expects it to be asked for.
        return here and not self.password_hash

    @property
    def secure(self) -> bool:
        """Whether people reach the page by https, through a web server in front of it."""
        return urlsplit(self.link).scheme == "https"
