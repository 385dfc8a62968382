"""The page's needs of certificates: those that were made, the days of a rule, and who makes one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Paper:
    """A certificate that was made: the name of its file, when (UTC ms), and its verdict in words."""

    name: str
    made: int
    words: str


@dataclass(frozen=True, slots=True)
class RuleDay:
    """A day of 24 h as the rule counts it.

    Attributes:
        start, end: Its ends, UTC ms.
        counts: Whether it counts.
        kind: Its outcome, in words.
        why: Why, or "" if `kind` says all.
    """

    start: int
    end: int
    counts: bool
    kind: str
    why: str


class Certifying(Protocol):
    """Makes certificates and keeps them; any thread may call it, and making one takes seconds."""

    def days(self, batch: str) -> Sequence[RuleDay]:
        """Return the days of a batch as its certificate would count them now; () if its rule counts no days.

        Raises:
            MonitorError: The batch cannot be judged; the sentence says why.
        """

    def papers(self, batch: str) -> Sequence[Paper]:
        """Return the certificates made of a batch, the newest first."""

    def make(self, batch: str, by: str) -> Paper:
        """Make a certificate of a batch as it stands.

        Raises:
            MonitorError: It cannot be made; the sentence says why.
        """

    def pdf(self, name: str) -> bytes:
        """Return a certificate's bytes by its name.

        Raises:
            KeyError: There is no certificate of that name.
        """
