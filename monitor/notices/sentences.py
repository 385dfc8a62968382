"""The sentences that an alarm, notice or line of the digest consists of, and phrases that several of them share.

`texts` has the rules.
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
        head: Writes the first sentence: place, what is wrong, number, since when, probe; None: `plain_head` does.
        advice: Writes what to do, beginning with a verb; None: there is nothing to do.
        act: Writes the same in eight words at most, for repeats, group messages and digests; None: there is nothing to do.
        deed: Writes the act as a verb with its object, four words at most, without a full stop: `turn it`.
        mind: Writes the danger to whoever does it, a short sentence or two; None: there is none that the act brings.
        steps: Writes the advice as steps, to be numbered where there is room; None: it has none.
        read: Writes the predicate of a value read by hand that is beyond the limit: `is too hot`.
        whole: Writes the whole message, where another order matters; None: head and advice do.
    """

    head: Sentence | None = None
    advice: Sentence | None = None
    act: Sentence | None = None
    deed: Sentence | None = None
    mind: Sentence | None = None
    steps: Callable[[Phrases], tuple[str, ...]] | None = None
    read: Sentence | None = None
    whole: Callable[[Phrases], Message] | None = None


def always(act: str) -> Sentence:
    """Return a sentence that is the same for all facts."""
    return lambda _: act


def plain_head(say: Phrases, what: str) -> str:
    """Return the usual first sentence: place, what is wrong, number, since when, trend, and last the probe."""
    number = f", {say.value}{say.returned}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what}{number} {say.since}{say.heading}{say.bracketed}"


def needs(say: Phrases, what: str) -> str:
    """Return the usual first sentence about a heap that is not as warm as it should be."""
    number = f", hottest {say.value}{say.needs}" if say.facts.value_milli is not None else ""
    return f"{say.place}: {what}{number} {say.since}{say.heading}"


def progress(say: Phrases) -> str:
    """Return the progress under the rule: `3 of 15 days, 1 of 5 turnings at 131 °F`, or ""."""
    known = say.facts.progress
    parts = [f"{done} of {wanted} {what}s" for what, done, wanted in known.parts()]
    at = f" at {say.number(known.at_hold_milli)}" if parts and known.at_hold_milli is not None else ""
    return ", ".join(parts) + at


def left_of_rule(say: Phrases) -> str:
    """Return the rest of the rule: ` (3 days and 2 turnings left)`, or ""."""
    left = [(what, wanted - done) for what, done, wanted in say.facts.progress.parts() if wanted > done]
    parts = [f"{count} {what}{'s' if count > 1 else ''}" for what, count in left]
    return f" ({' and '.join(parts)} left)" if parts else ""


def unmet(say: Phrases) -> str:
    """Return the goal that a heap missed: its rule or, without one, a hold that is long enough."""
    return "its rule was met" if say.facts.rule not in ("", "none") else "it held long enough"
