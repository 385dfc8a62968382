"""What a rule is: who asks for it, which limits hold, for how long, with how many turnings; and the rules we ship.

Rules this module keeps:

1. A rule is data. Each one we ship is a TOML file in the folder `rules` beside this module, its id the file's name.
2. A rule has one or more alternatives, each with its own limits; fulfilling any one of them fulfils the rule.
3. An alternative has one or more parts (run, total, days), joined by all or any. A part may ask for turnings: they
   count within the span that satisfies that part's duration.
4. While a batch is watched, only the first alternative (the lowest temperature) is followed: a walk through a record
   can keep one set of limits. The others are examined by the certificate only.
5. Status `memory` means that nobody has checked the figures against the text: such a rule serves for information.

Later kinds (window, mean over a span, run before each turning, constant temperature, declared, monitoring duties)
become further members of `Part`, each with a reader in `rule_file` and a judge in `durations`.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import Method

NO_RULE = "none"
"""The id that stands for the absence of a rule."""


class Status(StrEnum):
    """How the figures of a rule are known; stored and shown, so never renamed."""

    SEEN = "seen"
    SEEN_SECOND_HAND = "seen-2nd"
    MEMORY = "memory"


class Join(StrEnum):
    """How the parts of an alternative stand together."""

    ALL = "all"
    ANY = "any"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Between which temperatures an instant satisfies a rule.

    Attributes:
        low_milli_c: Lower limit, thousandths of a degree Celsius; included unless `strict`.
        high_milli_c: Upper limit, always included, or None where the rule states none.
        strict: Whether the rule says above (or exceeds) where others say at or above.
        low_text, high_text: The limits as the rule writes them, for people.
    """

    low_milli_c: int
    high_milli_c: int | None = None
    strict: bool = False
    low_text: str = ""
    high_text: str = ""

    def guarded(self, guard_milli_k: int) -> "Limits":
        """Return these limits drawn in by a guard band on both sides, thousandths of a kelvin."""
        high = None if self.high_milli_c is None else self.high_milli_c - guard_milli_k
        return replace(self, low_milli_c=self.low_milli_c + guard_milli_k, high_milli_c=high)

    @property
    def hopeless(self) -> bool:
        """Whether no temperature at all is within these limits (a guard band can bring that about)."""
        if self.high_milli_c is None:
            return False
        return self.high_milli_c < self.low_milli_c or (self.strict and self.high_milli_c == self.low_milli_c)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turnings:
    """How many turnings a part wants within the span that satisfies its duration.

    Attributes:
        count: At least so many.
        apart_ms: Each at least so long after the one before it that was counted, ms.
    """

    count: int
    apart_ms: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One unbroken interval of at least `duration_ms`; its span is that interval."""

    duration_ms: int
    turnings: Turnings | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """At least `duration_ms` in all; its span runs from the first hold instant to the last."""

    duration_ms: int
    turnings: Turnings | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Days:
    """So many days (24 h blocks) as the design's rule evaluation counts them.

    Its span runs from the start of the first day that counts to the last hold instant.

    Attributes:
        count: At least so many days.
        consecutive: Whether a failed day sets the count back to nothing.
        turnings: Turnings wanted within the span.
        day_ms, least_ms, recovery_ms: Length of a day, what of it must be known, longest recovery after a turning;
            the rule files cannot change them, tests do.
    """

    count: int
    consecutive: bool = False
    turnings: Turnings | None = None
    day_ms: int = DAY_MS
    least_ms: int = 12 * HOUR_MS
    recovery_ms: int = DAY_MS


Part = Run | Total | Days


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One way to fulfil a rule: limits, and what must be fulfilled within them."""

    limits: Limits
    parts: tuple[Part, ...]
    join: Join = Join.ALL


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
        conditions: What else it asks for, none of it worked out from temperatures.
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
    conditions: tuple[str, ...] = ()

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
        return any(part.turnings is not None for way in self.alternatives for part in way.parts)


def refuse_method(rule: Rule, method: Method | None) -> str | None:
    """Return one sentence saying why a rule does not cover a method, or None if it does or the method is not stated."""
    if method is None or method in rule.methods:
        return None
    covered = " and ".join(word.value for word in rule.methods)
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
