"""The memory of a source or channel."""

from dataclasses import dataclass


@dataclass(slots=True)
class LinkState:
    """A source or channel: whether it is up, since when, and why not."""

    what: str
    up: bool
    since: int
    why: str = ""
    told: bool = False
