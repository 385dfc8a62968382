"""What the sentences of one alarm, notice or line of the digest are, and the pieces that several of them share.

The rules are those of `texts`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.notices.facts import Phrases
from monitor.notices.state import Message

Sentence = Callable[[Phrases], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """The sentences of one alarm, notice or line of the digest.

    Attributes:
        head: The first sentence: place, what is wrong, number and limit, since when; None: the usual one with its name.
        advice: What to do, the first word a verb; None: nothing is asked.
        read: What a value that was read by hand is, where it is beyond the limit: `is too hot`.
        whole: All of it at once, where what matters must stand in another order.
    """

    head: Sentence | None = None
    advice: Sentence | None = None
    read: Sentence | None = None
    whole: Callable[[Phrases], Message] | None = None


def plain_head(say: Phrases, what: str, word: str = "limit") -> str:
    """Return the usual sentence: place, what is wrong, number and limit, probe, since when, heading."""
    number = f", {say.value}{say.beside(word)}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what}{number}{say.at_probe} {say.since}{say.heading}"


def needs(say: Phrases, what: str) -> str:
    """Return the usual sentence of a heap that is not as warm as it should be."""
    number = f", hottest {say.value}{say.beside('needs')}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what}{number} {say.since}{say.heading}"


def progress(say: Phrases) -> str:
    """Return how far a rule is: `3 of 15 days, 1 of 5 turnings at 131 °F`, or nothing."""
    known = say.facts.progress
    parts = [f"{done} of {wanted} {what}s" for what, done, wanted in known.parts()]
    at = f" at {say.number(known.at_hold_milli)}" if parts and known.at_hold_milli is not None else ""
    return ", ".join(parts) + at


def left_of_rule(say: Phrases) -> str:
    """Return ` (3 days and 2 turnings left)`, or nothing."""
    left = [(what, wanted - done) for what, done, wanted in say.facts.progress.parts() if wanted > done]
    parts = [f"{count} {what}{'s' if count > 1 else ''}" for what, count in left]
    return f" ({' and '.join(parts)} left)" if parts else ""


def unmet(say: Phrases) -> str:
    """Return what was not reached: the rule of a heap, or a hold that is long enough."""
    return "its rule was met" if say.facts.rule not in ("", "none") else "it held long enough"
