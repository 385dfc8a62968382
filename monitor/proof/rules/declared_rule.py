"""A rule as it is declared: who asks for it, which limits hold, for how long, with how many turnings.

Rules this module keeps:

1. A rule is data. Each rule that comes with the program is a TOML file beside this module; its id is the file's name.
2. A rule has one or more alternatives, each with its own limits; fulfilling any one of them fulfils the rule.
3. An alternative has one or more parts (`kinds`), joined by all or any. A part may ask for turnings: they count within
   the span that satisfies that part's duration.
4. While a batch is watched, every alternative is followed whose parts can be (`following`); the one that the batch is
   nearest to is shown. Phases go by the first, which has the lowest temperature.
5. Status `memory` means that nobody has checked the figures against the text: such a rule serves for information.
6. What a rule asks for beside time and temperature are its conditions. They never make it met; the verdict's
   `other_conditions` says how they are examined.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.model.turnings import TOGETHER_MS
from monitor.model.words import Method
from monitor.proof.rules.kinds import (
    Constant,
    Days,
    Limits,
    Mean,
    Part,
    Run,
    Window,
    wants_turnings,
)

NO_RULE = "none"
"""The id that stands for the absence of a rule."""


class Status(StrEnum):
    """The source of a rule's figures; stored and shown, so never renamed."""

    SEEN = "seen"
    SEEN_SECOND_HAND = "seen-2nd"
    MEMORY = "memory"


STATUS_WORDS = {
    Status.SEEN: "read in the text itself",
    Status.SEEN_SECOND_HAND: "read where another source restates the text",
    Status.MEMORY: "from memory, not checked: for information only until somebody has confirmed them",
}
"""The words in which people read how figures are known."""


class Join(StrEnum):
    """The way in which the parts of an alternative combine."""

    ALL = "all"
    ANY = "any"


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """Something else that a rule asks for, which a person may declare.

    Attributes:
        key: Its name within the rule: small letters, digits and hyphens.
        text: What is asked for, in our own words.
    """

    key: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Duties:
    """A rule's demands on monitoring; None where it states none.

    Attributes:
        key, text: As those of a condition.
        every_ms: Each probe is read at least so often, ms.
        per_milli_m: One probe for every so long a stretch of the pile, or fraction, millimetres.
        per_milli_m3: Or one for every such volume, or fraction, thousandths of a cubic metre.
        depth_min_milli_m, depth_max_milli_m: Depth below the surface, millimetres, both included.
    """

    key: str
    text: str
    every_ms: int | None = None
    per_milli_m: int | None = None
    per_milli_m3: int | None = None
    depth_min_milli_m: int | None = None
    depth_max_milli_m: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One way to fulfil a rule: limits, and what must be fulfilled within them."""

    limits: Limits
    parts: tuple[Part, ...]
    join: Join = Join.ALL

    def all_limits(self) -> tuple[Limits, ...]:
        """Return every distinct set of limits that this alternative needs, its own first."""
        own = [one.limits for part in self.parts if isinstance(part, Window) for one in part.within]
        return tuple(dict.fromkeys([self.limits, *(limits for limits in own if limits is not None)]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A published time-and-temperature requirement.

    Attributes:
        id: Name of its file without the ending.
        title, jurisdiction, section: What it is called, where it is in force, where it is written.
        methods: Methods it covers; any other is refused.
        feedstock: What may go in.
        wording: What it asks for, in our own words.
        source: Where the figures were read.
        status: How the figures are known.
        alternatives: Ways to fulfil it; the first has the lowest temperature.
        conditions: What else it asks for, and how it wants the temperature monitored.
        caution: A sentence that everything printed under this rule must carry, or "".
        together_ms: Entries of a turning less than so long after the first of their group are one with it; the rule files
            cannot change it, tests do.
    """

    id: str
    title: str
    jurisdiction: str
    section: str
    methods: tuple[Method, ...]
    feedstock: str
    wording: str
    source: str
    status: Status
    alternatives: tuple[Alternative, ...]
    conditions: tuple[Condition | Duties, ...] = ()
    caution: str = ""
    together_ms: int = TOGETHER_MS

    @property
    def live(self) -> Alternative:
        """The alternative that is followed while a batch is watched: the first, with the lowest temperature."""
        return self.alternatives[0]

    @property
    def hold_milli_c(self) -> int:
        """Hold temperature for phases and live progress, thousandths of a degree Celsius (of `live`)."""
        return self.live.limits.low_milli_c

    @property
    def for_information(self) -> bool:
        """Whether the figures are unchecked, so that a report serves for information only."""
        return self.status is Status.MEMORY

    @property
    def wants_turnings(self) -> bool:
        """Whether any way to fulfil the rule asks for turnings."""
        return any(wants_turnings(part) for way in self.alternatives for part in way.parts)

    @property
    def needs_readings(self) -> bool:
        """Whether sets of instants are not enough to judge it: a mean or a constant temperature needs the values."""
        parts = [part for way in self.alternatives for part in way.parts]
        means = (one.part for part in parts if isinstance(part, Window) for one in part.within)
        return any(isinstance(part, Constant) for part in parts) or any(isinstance(one, Mean) for one in means)

    def all_limits(self) -> tuple[Limits, ...]:
        """Return every distinct set of limits that the rule needs, alternative by alternative; `evaluate` wants them so."""
        return tuple(dict.fromkeys(limits for way in self.alternatives for limits in way.all_limits()))

    @property
    def has_upper_limit(self) -> bool:
        """Whether heat can be too much for the rule."""
        return any(limits.high_milli_c is not None for limits in self.all_limits())


def joined(join: Join, met: Sequence[int | None]) -> int | None:
    """Return when parts joined by all or any were met together, or None."""
    instants = [at for at in met if at is not None]
    if join is Join.ANY:
        return min(instants, default=None)
    return max(instants) if len(instants) == len(met) else None


def refuse_method(rule: Rule, method: Method | None) -> str | None:
    """Return one sentence saying why a rule does not cover a method, or None if it does or the method is not stated."""
    if method is None or method in rule.methods:
        return None
    words = [word.value for word in rule.methods]
    covered = " and ".join([*([", ".join(words[:-1])] if words[:-1] else []), words[-1]])
    return f"Rule {rule.id} ({rule.section}) covers {covered} composting, not {method.value}."


def unbroken(way: Alternative) -> Alternative | None:
    """Return the strict reading of an alternative, its days as one unbroken run; None where it counts no days."""
    if not any(isinstance(part, Days) for part in way.parts):
        return None
    parts = tuple(
        Run(duration_ms=part.count * part.day_ms, turnings=part.turnings) if isinstance(part, Days) else part
        for part in way.parts
    )
    return replace(way, parts=parts)


def scattered(way: Alternative) -> Alternative | None:
    """Return the reading of an alternative in which days need not follow one another; None where that is its own."""
    if not any(isinstance(part, Days) and part.consecutive for part in way.parts):
        return None
    return replace(
        way, parts=tuple(replace(part, consecutive=False) if isinstance(part, Days) else part for part in way.parts)
    )
